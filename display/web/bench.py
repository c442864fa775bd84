"""What the bench page asks for: its stream, its keys, its pictures."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from config.errors import RingtrueError
from contract.lengths import UNITS
from display.web.body import TooMuchError, body_of
from display.web.camera import PICTURE_BYTES_MAX, Camera
from display.web.doors import Doors
from display.web.entering import not_allowed
from display.web.feed import Feed
from display.web.people import may
from display.web.sessions import Session
from display.web.signing import allow_all, allowing
from display.web.stream import Events
from display.web.tabs import FIELDS_MAX, TAB_ID, TEXT_MAX, Tabs, TooManyError
from display.web.told import in_unit
from display.words import LanguageError, Words
from link.errors import RefusedError

ACT_BYTES_MAX = 100_000

_Text = Annotated[str, Field(max_length=TEXT_MAX)]


class Pressed(BaseModel):
    """A key that was pressed on a page, with what is typed there. unit: in which the page was drawn."""

    model_config = ConfigDict(extra="forbid", strict=True)
    tab: _Text
    name: _Text
    key: Annotated[str, Field(max_length=20)]
    unit: Annotated[str, Field(max_length=10)]
    typed: Annotated[dict[_Text, _Text], Field(max_length=FIELDS_MAX)] = {}
    taken: int | None = None


class Bench:
    """bay: SITE/NAME."""

    def __init__(self, bay: str, feed: Feed, tabs: Tabs, doors: Doors, camera: Camera) -> None:
        self._bay, self._feed, self._tabs, self._doors, self._camera = bay, feed, tabs, doors, camera

    def routes(self) -> list[Route]:
        """Its stream, keys and pictures."""
        return [
            Route("/bench/stream", self._stream),
            Route("/bench/act", self._act, methods=["POST"]),
            Route("/bench/photo", self._photo, methods=["POST"]),
        ]

    def _allowed(self, request: Request) -> Session | None:
        session = self._doors.session(request)
        return session if session is not None and may(session.role, "work") else None

    async def _stream(self, request: Request) -> Response:
        session, tab, unit = self._allowed(request), request.query_params.get("tab", ""), _unit(request)
        if session is None:
            return not_allowed()
        if TAB_ID.fullmatch(tab) is None or unit is None:
            return _refused("A tab of 32 hexadecimal digits, and a unit of mm or in, are needed.", 400)
        try:
            words = Words(request.query_params.get("lang", "en"))
        except LanguageError as error:
            return _refused(str(error), 400)
        allows = allowing(session) if self._doors.has_people else allow_all
        try:
            walk = self._tabs.of(tab, session.key, session.person, unit, words=words, allows=allows)
        except TooManyError as error:
            return _refused(str(error), 503)
        return Events(
            self._feed.watch(self._bay, in_unit(unit)), walk.shown, lambda: self._doors.is_open(request)
        )

    async def _act(self, request: Request) -> Response:
        session = self._allowed(request)
        if session is None:
            return not_allowed()
        try:
            pressed = Pressed.model_validate_json(await body_of(request, ACT_BYTES_MAX))
        except TooMuchError:
            return _refused("That is more than a page asks for: shorten what is typed.", 413)
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(map(str, first["loc"]))
            return _refused(f"Not what a page sends: {where}: {first['msg']}", 400)
        walk = self._tabs.find(pressed.tab, session.key)
        if walk is None:
            return _refused("This page is not known any more: load it again.", 409)
        refusal = walk.press(pressed.name, pressed.key, pressed.typed, pressed.unit, pressed.taken)
        return Response(status_code=204) if refusal is None else _refused(refusal, 409)

    async def _photo(self, request: Request) -> Response:
        session, asked = self._allowed(request), request.query_params
        if session is None:
            return not_allowed()
        walk = self._tabs.find(asked.get("tab", ""), session.key)
        if walk is None:
            return _refused("This page is not known any more: load it again.", 409)
        said = {name: asked.get(name, "") for name in ("inspection", "check", "item", "note")}
        try:
            await self._camera.take(request, lambda file: walk.photo(file, **said))
        except TooMuchError:
            most = PICTURE_BYTES_MAX // 1_000_000
            return _refused(
                f"The picture is larger than {most} MB, or came too slowly: take a smaller one.", 413
            )
        except RingtrueError as error:
            return _refused(error.message if isinstance(error, RefusedError) else str(error), 422)
        return Response(status_code=204)


def _unit(request: Request) -> str | None:
    unit = request.query_params.get("unit", "mm")
    return unit if unit in UNITS else None


def _refused(why: str, status: int) -> Response:
    return JSONResponse({"error": why}, status)
