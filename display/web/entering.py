"""The way in and out: the form, the session's cookie, and what is answered to whoever may not."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from pathlib import Path
from urllib.parse import parse_qs, quote

from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from display.web.body import TooMuchError, body_of
from display.web.doors import Doors, NotLetInError
from display.web.people import Role

FORM_BYTES_MAX = 4096
Endpoint = Callable[[Request], Awaitable[Response]]
"""In the loop itself: a thread for each request would meet the others at the list of sessions."""


class Entering:
    """form: the page that asks name and password."""

    def __init__(self, doors: Doors, form: Path) -> None:
        self._doors, self._form = doors, form

    def routes(self) -> list[Route]:
        """The form, what is sent from it, who is in, and the way out."""
        return [
            Route("/enter", self._ask, methods=["GET"]),
            Route("/enter", self._enter, methods=["POST"]),
            Route("/leave", self._leave, methods=["POST"]),
            Route("/api/me", self._me),
        ]

    def before(self, endpoint: Endpoint, role: Role) -> Endpoint:
        """The page, for whoever may; others are asked who they are."""

        async def guarded(request: Request) -> Response:
            if self._doors.is_allowed(request, role):
                return await endpoint(request)
            return RedirectResponse(f"/enter?next={quote(request.url.path)}", 303)

        return guarded

    def guarding(self, role: Role) -> Middleware:
        """Around routes that only whoever may gets an answer of."""
        return Middleware(_Guarded, doors=self._doors, role=role)

    async def _ask(self, _: Request) -> Response:
        return FileResponse(self._form, media_type="text/html", headers={"Cache-Control": "no-cache"})

    async def _enter(self, request: Request) -> Response:
        said = await _form(request)
        if said is None:
            return JSONResponse({"error": "Too much: a name and a password are enough."}, 413)
        address = request.client.host if request.client else ""
        try:
            password = said.get("password", "").rstrip("\r\n")  # a file's line, with its end
            token = await self._doors.enter(said.get("name", ""), password, address)
        except NotLetInError as error:
            return JSONResponse({"error": str(error)}, 403)
        self._doors.leave(request)  # a session of before is not gone on with
        response = JSONResponse({"next": _own_path(said.get("next", ""))})
        self._doors.hand(response, token)
        return response

    async def _leave(self, request: Request) -> Response:
        self._doors.leave(request)
        response = Response(status_code=204)
        self._doors.take_back(response)
        return response

    async def _me(self, request: Request) -> Response:
        session = self._doors.session(request)
        return JSONResponse(
            {
                "person": None if session is None else session.person,
                "role": None if session is None else session.role,
                "people": self._doors.has_people,
            }
        )


class _Guarded:
    def __init__(self, app: ASGIApp, doors: Doors, role: Role) -> None:
        self._app, self._doors, self._role = app, doors, role

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or self._doors.is_allowed(Request(scope), self._role):
            await self._app(scope, receive, send)
        else:
            await not_allowed()(scope, receive, send)


def not_allowed() -> Response:
    """To whoever may not."""
    return JSONResponse({"error": "Enter your name and password first."}, 401)


async def _form(request: Request) -> dict[str, str] | None:
    """What a form says; None where it is too long, or comes too slowly."""
    try:
        body = await body_of(request, FORM_BYTES_MAX)
        found = parse_qs(body.decode(errors="replace"), keep_blank_values=True, max_num_fields=10)
    except (TooMuchError, ValueError):
        return None
    return {name: values[-1] for name, values in found.items()}


def _own_path(wanted: str) -> str:
    """Where to go on: a page of ours, and no other site."""
    return wanted if wanted in ("/bench", "/history", "/wall") else "/bench"
