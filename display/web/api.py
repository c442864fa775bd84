"""The records for other programs: result documents by HTTP, byte for byte, and what is due as a calendar.

`/api/1/openapi.json` describes it (OpenAPI 3.1); docs/exchange.md shows how a program enters.
"""

from __future__ import annotations

import json
from asyncio import to_thread
from datetime import UTC, datetime
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from display.web.answering import Answering, error_line
from display.web.archive import Archive, Filed, Leaf
from display.web.openapi import CONTRADICTED, described

MANY, MOST = 100, 500
"""Inspections of one answer: where nothing is said, and at the most."""


def api_routes(archive: Archive, answering: Answering) -> list[Route]:
    """The routes that tell of inspections. All are for whoever may look."""
    api = _Api(archive, answering)
    return [
        Route("/api/1/inspections", api.inspections),
        Route("/api/1/inspections/{inspection}", api.inspection),
        Route("/api/1/due.ics", api.due),
    ]


def openapi_route() -> Route:
    """What there is to be asked; it tells nothing of anybody."""

    async def openapi(_: Request) -> Response:
        return JSONResponse(await to_thread(described))

    return Route("/api/1/openapi.json", openapi)


class _Api:
    def __init__(self, archive: Archive, answering: Answering) -> None:
        self._archive, self._answer = archive, answering

    async def inspections(self, request: Request) -> Response:
        asked = dict(request.query_params)
        unknown = set(asked) - {"since", "after", "engine", "damper", "limit"}
        if unknown:
            return error_line(
                400, f"{', '.join(sorted(unknown))}: no such parameter; see /api/1/openapi.json"
            )
        try:
            since = _moment(asked["since"]) if "since" in asked else None
        except (ValueError, OverflowError):
            return error_line(400, f"since={asked['since']}: a time such as 2026-11-01T06:30:00Z is needed")
        limit = asked.get("limit", str(MANY))
        if not (limit.isascii() and limit.isdecimal() and len(limit) < 10 and 1 <= int(limit) <= MOST):
            return error_line(400, f"limit={limit}: 1 to {MOST} is needed")

        def read() -> Leaf:
            return self._archive.documents(
                since, asked.get("after"), asked.get("engine"), asked.get("damper"), int(limit)
            )

        return await self._answer(read, _leaf, "nothing")

    async def inspection(self, request: Request) -> Response:
        inspection, revision = request.path_params["inspection"], request.query_params.get("revision")
        if revision is not None and not (revision.isascii() and revision.isdecimal() and len(revision) < 10):
            return error_line(400, f"revision={revision}: a number is needed")
        number = None if revision is None else int(revision)
        which = inspection if number is None else f"{inspection} revision {number}"
        return await self._answer(
            lambda: self._archive.document(inspection, number), _document, f"{which}: not on record"
        )

    async def due(self, _: Request) -> Response:
        now = datetime.now().astimezone()
        return await self._answer(lambda: self._archive.calendar(now), _calendar, "nothing")


def _moment(text: str) -> datetime:
    """In UTC, as it is without a zone. Raises ValueError, and OverflowError where UTC has no such year."""
    moment = datetime.fromisoformat(text)
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


def _document(one: Filed) -> Response:
    """Byte for byte; what is told of it beside it."""
    headers = {} if one.contradicted is None else {CONTRADICTED: quote(one.contradicted, safe="/, ")}
    return Response(one.document, media_type="application/json", headers=headers)


def _calendar(calendar: bytes) -> Response:
    return Response(calendar, media_type="text/calendar")


def _leaf(leaf: Leaf) -> Response:
    """The documents as they stand on record, and where to go on."""
    rest = json.dumps({"next": leaf.next, "contradicted": dict(leaf.contradicted)}).encode()
    return Response(
        b'{"inspections":[' + b",".join(leaf.documents) + b"]," + rest[1:],
        media_type="application/json",
    )
