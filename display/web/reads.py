"""Pages' questions to the records: fleet, what is due, histories, profiles, reports, pictures, photos.

Who may ask is decided by the doors before it comes here.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime
from urllib.parse import quote

from pydantic import BaseModel
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from contract.lengths import UNITS
from display.web.answering import Answering, error_line
from display.web.api import api_routes
from display.web.archive import Archive, Paper

ALONE = {"Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox"}
"""Of a document that brings its own style and runs nothing."""
PDF = {
    "Content-Security-Policy": "default-src 'self'; style-src 'self' 'unsafe-inline'; frame-ancestors 'none'"
}
"""What a browser's own viewer of PDF needs: it draws by style and by an embedded object."""


def local_day() -> date:
    """Today, by the clock of the workshop."""
    return datetime.now().astimezone().date()


def read_routes(archive: Archive, today: Callable[[], date] = local_day) -> list[Route]:
    """The routes; what is wrong is one line, {"error": …}: 400 a wrong question, 404 nothing of that name,
    503 the records cannot be read now."""
    answering = Answering()
    reads = _Reads(archive, today, answering)
    return [
        *api_routes(archive, answering),
        Route("/api/fleet", reads.fleet),
        Route("/api/fleet/compared", reads.compared),
        Route("/api/due", reads.due),
        Route("/api/history/{serial:path}", reads.history),
        Route("/api/surfaces/{inspection}", reads.surfaces),
        Route("/report/{inspection}.pdf", reads.report),
        Route("/picture/{inspection}.svg", reads.picture),
        Route("/photo/{file:path}", reads.photo),
    ]


class _Reads:
    def __init__(self, archive: Archive, today: Callable[[], date], answering: Answering) -> None:
        self._archive, self._today, self._answer = archive, today, answering

    async def fleet(self, _request: Request) -> Response:
        return await self._answer(lambda: self._archive.fleet(self._today()), _json, "no fleet")

    async def compared(self, _request: Request) -> Response:
        return await self._answer(self._archive.compared, _json, "no fleet")

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
            return error_line(400, f"unit={unit}: give {' or '.join(UNITS)}")

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


def _json(told: BaseModel) -> Response:
    return Response(told.model_dump_json(exclude_none=True), media_type="application/json")


def _no(inspection: str) -> str:
    return f"{inspection}: neither records nor journal have such an inspection"


def _named(file: str) -> dict[str, str]:
    """To be shown, and kept under a name that any system takes (RFC 6266)."""
    plain = re.sub(r"[^A-Za-z0-9._-]", "_", file)
    return {"Content-Disposition": f"inline; filename=\"{plain}\"; filename*=UTF-8''{quote(file, safe='')}"}
