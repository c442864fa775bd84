"""What the bench page asks for: its stream, its keys, its pictures."""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from config.errors import RingtrueError
from contract.lengths import UNITS
from display.web.doors import Doors, Session
from display.web.entering import not_allowed
from display.web.feed import Feed
from display.web.people import may
from display.web.stream import events
from display.web.tabs import FIELDS_MAX, TAB_ID, TEXT_MAX, Tabs
from display.words import LanguageError, Words

PHOTO_BYTES_MAX = 20_000_000
ACT_BYTES_MAX = 100_000

_Text = Annotated[str, Field(max_length=TEXT_MAX)]


class Pressed(BaseModel):
    """A key that was pressed on a page, with what is typed there."""

    model_config = ConfigDict(extra="forbid", strict=True)
    tab: _Text
    name: _Text
    key: Annotated[str, Field(max_length=20)]
    typed: Annotated[dict[_Text, _Text], Field(max_length=FIELDS_MAX)] = {}


class TooLongError(Exception):
    """More came than is taken."""


class Bench:
    """bay: SITE/NAME. keep: as in World."""

    def __init__(self, bay: str, feed: Feed, tabs: Tabs, doors: Doors, keep: Callable[[Path], str]) -> None:
        self._bay, self._feed, self._tabs, self._doors, self._keep = bay, feed, tabs, doors, keep

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
        walk = self._tabs.of(tab, session.key, session.person, unit, words=words)
        return events(self._feed.watch(self._bay), walk.shown, lambda: self._doors.is_open(request))

    async def _act(self, request: Request) -> Response:
        session = self._allowed(request)
        if session is None:
            return not_allowed()
        try:
            pressed = Pressed.model_validate_json(await _body(request, ACT_BYTES_MAX))
        except TooLongError:
            return _refused("That is more than a page asks for: shorten what is typed.", 413)
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(map(str, first["loc"]))
            return _refused(f"Not what a page sends: {where}: {first['msg']}", 400)
        walk = self._tabs.find(pressed.tab, session.key)
        if walk is None:
            return _refused("This page is not known any more: load it again.", 409)
        refusal = walk.press(pressed.name, pressed.key, pressed.typed)
        return Response(status_code=204) if refusal is None else _refused(refusal, 409)

    async def _photo(self, request: Request) -> Response:
        session, asked = self._allowed(request), request.query_params
        if session is None:
            return not_allowed()
        walk = self._tabs.find(asked.get("tab", ""), session.key)
        if walk is None:
            return _refused("This page is not known any more: load it again.", 409)
        try:
            picture = await _body(request, PHOTO_BYTES_MAX)
        except TooLongError:
            most = PHOTO_BYTES_MAX // 1_000_000
            return _refused(f"The picture is larger than {most} MB: take a smaller one.", 413)
        try:
            file = await asyncio.to_thread(self._kept, picture)
            await walk.photo(asked.get("check", ""), asked.get("item", ""), file, asked.get("note", ""))
        except RingtrueError as error:
            return _refused(str(error), 422)
        return Response(status_code=204)

    def _kept(self, picture: bytes) -> str:
        with tempfile.NamedTemporaryFile(prefix="ringtrue-") as file:
            file.write(picture)
            file.flush()
            return self._keep(Path(file.name))


def _unit(request: Request) -> str | None:
    unit = request.query_params.get("unit", "mm")
    return unit if unit in UNITS else None


async def _body(request: Request, most: int) -> bytes:
    """All that was sent. Raises TooLongError before more than that is held."""
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > most:
            raise TooLongError
    return bytes(body)


def _refused(why: str, status: int) -> Response:
    return JSONResponse({"error": why}, status)
