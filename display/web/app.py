"""The pages of a bay: what is asked for, by whom, and what is answered."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Collection, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles

from display.web.bench import Bench
from display.web.doors import Doors
from display.web.entering import Entering
from display.web.feed import Feed
from display.web.guard import Guard
from display.web.said import words_route
from display.web.stream import events
from display.web.tabs import Tabs
from link.tasks import end

PAGES = Path(str(files("display"))) / "pages"
"""What a browser gets as it lies there."""


@dataclass(frozen=True, slots=True)
class World:
    """All that the pages live on. bay: SITE/NAME, whose bench this is. keep: puts a picture into the bay's
    folder and gives its name there. reads: routes to what was found before, for whoever may look. hosts: as
    in Guard."""

    bay: str
    feed: Feed
    tabs: Tabs
    doors: Doors
    keep: Callable[[Path], str]
    reads: Sequence[BaseRoute]
    hosts: Collection[str] | None
    is_secure: bool


def application(world: World) -> Starlette:
    """The server's application."""
    doors = world.doors
    entering = Entering(doors, PAGES / "enter.html")
    bench = Bench(world.bay, world.feed, world.tabs, doors, world.keep)

    async def wall_stream(request: Request) -> Response:
        with_watcher = world.feed.watch(request.query_params.get("bay"))
        return events(with_watcher)

    @asynccontextmanager
    async def living(_: Starlette) -> AsyncIterator[None]:
        tasks = [asyncio.ensure_future(world.feed.run()), asyncio.ensure_future(world.tabs.run())]
        try:
            yield
        finally:
            await end(*tasks)

    look = entering.guarding("look")
    routes: list[BaseRoute] = [
        Route("/", lambda _: RedirectResponse("/wall")),
        Route("/wall", _page("wall.html")),
        Route("/wall/stream", wall_stream),
        Route("/bench", entering.before(_page("bench.html"), "work")),
        *bench.routes(),
        Route("/history", entering.before(_page("history.html"), "look")),
        *entering.routes(),
        words_route(),
        Mount("/static", _Static(directory=PAGES)),
        Mount("/", routes=list(world.reads), middleware=[look]),
    ]
    guard = Middleware(Guard, hosts=world.hosts, is_secure=world.is_secure)
    return Starlette(routes=routes, middleware=[guard], lifespan=living)


def _page(name: str) -> Callable[[Request], Response]:
    def page(_: Request) -> Response:
        return FileResponse(PAGES / name, media_type="text/html", headers={"Cache-Control": "no-cache"})

    return page


class _Static(StaticFiles):
    """Files of the pages: asked again each time, answered in short where they are the same."""

    def file_response(self, *args: object, **more: object) -> Response:
        """With the header that says so."""
        response: Response = super().file_response(*args, **more)  # type: ignore[arg-type]  # passed on
        response.headers["Cache-Control"] = "no-cache"
        return response
