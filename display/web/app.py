"""The pages of a bay: what is asked for, by whom, and what is answered."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Collection, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from display.web.api import openapi_route
from display.web.bench import Bench
from display.web.camera import Camera
from display.web.doors import Doors
from display.web.entering import Endpoint, Entering
from display.web.feed import Feed
from display.web.for_all import for_all
from display.web.guard import Guard
from display.web.metrics import metrics_route
from display.web.said import said_routes
from display.web.stream import Events
from display.web.tabs import Tabs
from display.web.told import in_unit
from display.web.walls import Walls
from link.tasks import end

PAGES = Path(str(files("display"))) / "pages"
"""What a browser gets as it lies there."""


@dataclass(frozen=True, slots=True)
class World:
    """All that the pages live on. bay: SITE/NAME, whose bench this is. reads: what was found before,
    for whoever may look. hosts: as in Guard."""

    bay: str
    feed: Feed
    tabs: Tabs
    doors: Doors
    camera: Camera
    reads: Sequence[Route]
    hosts: Collection[str] | None
    is_secure: bool


def application(world: World, on_failure: Callable[[BaseException], None]) -> ASGIApp:
    """The server's application. on_failure: told when the bays are heard no more, by a fault of ours."""
    doors = world.doors
    entering = Entering(doors, PAGES / "enter.html")
    walls = Walls(world.feed)
    bench = Bench(world.bay, world.feed, world.tabs, doors, world.camera)

    async def wall_stream(request: Request) -> Response:
        address = request.client.host if request.client is not None else ""
        if (why := walls.why_not(address)) is not None:
            return JSONResponse({"error": why}, 503, {"X-Ringtrue-Why": why})
        told = in_unit(request.query_params.get("unit", "mm"))
        only = request.query_params.get("bay")
        return Events(walls.watching(address, only, lambda patch: for_all(told(patch))))

    def ended(task: asyncio.Future[None]) -> None:
        if not task.cancelled() and (error := task.exception()) is not None:
            on_failure(error)

    @asynccontextmanager
    async def living(_: Starlette) -> AsyncIterator[None]:
        tasks = [asyncio.ensure_future(world.feed.run()), asyncio.ensure_future(world.tabs.run())]
        for task in tasks:
            task.add_done_callback(ended)
        try:
            yield
        finally:
            await end(*tasks)

    look = entering.guarding("look")
    reads = [Route(one.path, one.endpoint, methods=one.methods, middleware=[look]) for one in world.reads]
    routes: list[BaseRoute] = [
        Route("/", _to_wall),
        Route("/wall", _page("wall.html")),
        Route("/wall/stream", wall_stream),
        Route("/bench", entering.before(_page("bench.html"), "work")),
        *bench.routes(),
        Route("/history", entering.before(_page("history.html"), "look")),
        *entering.routes(),
        *said_routes(),
        metrics_route(world.feed),
        openapi_route(),
        Mount("/static", _Static(directory=PAGES)),
        *reads,
    ]
    made = Starlette(routes=routes, lifespan=living)
    made.router.redirect_slashes = False  # by whatever name was asked for: to another site, it may be
    # Around all of it, so that what fails is answered with its headers too.
    return Guard(made, hosts=world.hosts, is_secure=world.is_secure)


async def _to_wall(_: Request) -> Response:
    return RedirectResponse("/wall")


def _page(name: str) -> Endpoint:
    async def page(_: Request) -> Response:
        return FileResponse(PAGES / name, media_type="text/html", headers={"Cache-Control": "no-cache"})

    return page


class _Static(StaticFiles):
    """Files of the pages: asked again each time, answered in short where they are the same."""

    def file_response(self, *args: object, **more: object) -> Response:
        """With the header that says so."""
        response: Response = super().file_response(*args, **more)  # type: ignore[arg-type]  # passed on
        response.headers["Cache-Control"] = "no-cache"
        return response
