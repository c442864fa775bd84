"""Pages' questions to the records: fleet, what is due, histories, profiles, reports, pictures, photos.

Each read runs in a thread, and few at once: a long one keeps no stream waiting. Who may ask is decided by the
doors before it comes here.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime
from typing import TypeVar
from urllib.parse import quote

from anyio import CapacityLimiter, to_thread
from pydantic import BaseModel
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from config.errors import RingtrueError
from contract.lengths import UNITS
from display.web.archive import Archive, Paper

AT_ONCE = 2
"""Reads that run at the same time; the others wait."""
NO_STORE = {"Cache-Control": "no-store", "X-Content-Type-Options": "nosniff"}
ALONE = {"Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox"}
"""Of a document that brings its own style and runs nothing."""
PDF = {
    "Content-Security-Policy": "default-src 'self'; style-src 'self' 'unsafe-inline'; frame-ancestors 'none'"
}
"""What a browser's own viewer of PDF needs: it draws by style and by an embedded object."""

T = TypeVar("T")


def local_day() -> date:
    """Today, by the clock of the workshop."""
    return datetime.now().astimezone().date()


def read_routes(archive: Archive, today: Callable[[], date] = local_day) -> list[Route]:
    """The routes; what is wrong is one line, {"error": …}: 400 a wrong question, 404 nothing of that name,
    503 the records cannot be read now."""
    reads = _Reads(archive, today)
    return [
        Route("/api/fleet", reads.fleet),
        Route("/api/due", reads.due),
        Route("/api/history/{serial:path}", reads.history),
        Route("/api/surfaces/{inspection}", reads.surfaces),
        Route("/report/{inspection}.pdf", reads.report),
        Route("/picture/{inspection}.svg", reads.picture),
        Route("/photo/{file:path}", reads.photo),
    ]


class _Reads:
    def __init__(self, archive: Archive, today: Callable[[], date]) -> None:
        self._archive, self._today = archive, today
        self._limiter = CapacityLimiter(AT_ONCE)

    async def fleet(self, _request: Request) -> Response:
        return await self._answer(lambda: self._archive.fleet(self._today()), _json, "no fleet")

    async def due(self, _request: Request) -> Response:
        return await self._answer(lambda: self._archive.due(self._today()), _json, "nothing")

    async def history(self, request: Request) -> Response:
        serial = request.path_params["serial"]
        missing = (
            f"no inspection on record of a damper or an engine {serial}; look at its plate, capitals and "
            "dashes count"
        )
        return await self._answer(lambda: self._archive.history(serial), _json, missing)

    async def surfaces(self, request: Request) -> Response:
        inspection = request.path_params["inspection"]

        def shown(found: tuple[BaseModel, ...]) -> Response:
            return JSONResponse([one.model_dump(mode="json", exclude_none=True) for one in found])

        return await self._answer(lambda: self._archive.surfaces(inspection), shown, _no(inspection))

    async def report(self, request: Request) -> Response:
        inspection, unit = request.path_params["inspection"], request.query_params.get("unit", "mm")
        if unit not in UNITS:
            return _error(400, f"unit={unit}: give {' or '.join(UNITS)}")

        def shown(paper: Paper) -> Response:
            ending, policy = (".pdf", PDF) if paper.media_type == "application/pdf" else (".html", ALONE)
            headers = _named(f"{paper.stem}{ending}") | policy
            return Response(paper.data, media_type=paper.media_type, headers=headers)

        return await self._answer(lambda: self._archive.report(inspection, unit), shown, _no(inspection))

    async def picture(self, request: Request) -> Response:
        inspection = request.path_params["inspection"]

        def shown(svg: str) -> Response:
            headers = _named(f"{inspection}.svg") | ALONE
            return Response(svg, media_type="image/svg+xml", headers=headers)

        missing = f"{inspection}: nothing of it can be drawn, or there is no such inspection"
        return await self._answer(lambda: self._archive.picture(inspection), shown, missing)

    async def photo(self, request: Request) -> Response:
        file = request.path_params["file"]

        def shown(data: bytes) -> Response:
            return Response(data, media_type="image/jpeg", headers=_named(file))

        return await self._answer(lambda: self._archive.photo(file), shown, "there is no such photo")

    async def _answer(
        self, read: Callable[[], T | None], shown: Callable[[T], Response], missing: str
    ) -> Response:
        try:
            found = await to_thread.run_sync(read, limiter=self._limiter)
        except RingtrueError as error:
            return _error(503, str(error))
        response = _error(404, missing) if found is None else shown(found)
        response.headers.update(NO_STORE)
        return response


def _json(told: BaseModel) -> Response:
    return Response(told.model_dump_json(exclude_none=True), media_type="application/json")


def _error(status: int, line: str) -> Response:
    return JSONResponse({"error": " ".join(line.split())}, status, headers=NO_STORE)


def _no(inspection: str) -> str:
    return f"{inspection}: neither records nor journal have such an inspection"


def _named(file: str) -> dict[str, str]:
    """To be shown, and kept under a name that any system takes (RFC 6266)."""
    plain = re.sub(r"[^A-Za-z0-9._-]", "_", file)
    return {"Content-Disposition": f"inline; filename=\"{plain}\"; filename*=UTF-8''{quote(file, safe='')}"}
