"""A stage for the wall page: its files behind the server's own headers, and a stream that tests speak on."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager
from typing import Any

from playwright.sync_api import Page
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, Response, StreamingResponse
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from contract.live import Live
from display.web.app import PAGES
from display.web.guard import Guard
from display.web.said import said_routes
from display.web.server import bound, serve
from display.web.stream import event

BAY = "greywacke/bay-2"
INSPECTION = "truck-14-november"
CAUTIONS = (
    "Bar by hand with the barring tool; never turn the engine by the damper or its bolts.",
    "Hands, sleeves and cables clear of fan, belts and gauge.",
)
BLANK = (
    "<!doctype html><html lang=en><title>ringtrue</title><link rel=icon href='data:,'><body></body></html>"
)


class Stage:
    """One bay or several, as the stream tells them."""

    def __init__(self) -> None:
        self.url = ""
        self.said: dict[str, dict[str, Any]] = {}
        self.refuses = ""
        self._pages: set[asyncio.Queue[str]] = set()
        self._loop: asyncio.AbstractEventLoop | None = None

    def bay(self, name: str = BAY, **changed: Any) -> None:
        """What has changed of a bay; of one that is new, the rest is as at a quiet bay."""
        told = changed if name in self.said else quiet() | changed
        self.said.setdefault(name, {}).update(told)
        self.tell("bay", {"bay": name, **told})

    def tell(self, name: str, data: dict[str, Any]) -> None:
        """One event, to every page."""

        def put() -> None:
            for page in self._pages:
                page.put_nowait(event(name, data))

        assert self._loop is not None
        self._loop.call_soon_threadsafe(put)

    async def stream(self, request: Request) -> Response:
        """Everything at first, then what is told; nothing but why, where it refuses."""
        if self.refuses:
            return Response(status_code=503, headers={"X-Ringtrue-Why": self.refuses})
        if request.method == "HEAD":
            return Response()

        async def told() -> AsyncIterator[str]:
            queue: asyncio.Queue[str] = asyncio.Queue()
            yield event("broker", {"away": None})
            for name, bay in self.said.items():
                yield event("bay", {"bay": name, **bay})
            self._pages.add(queue)
            try:
                while True:
                    yield await queue.get()
            finally:
                self._pages.discard(queue)

        return StreamingResponse(told(), media_type="text/event-stream")

    async def run(self, ready: threading.Event, stop: asyncio.Event) -> None:
        """Until stop is set."""
        self._loop = asyncio.get_running_loop()
        app = Starlette(
            routes=[
                Route("/blank", lambda _: HTMLResponse(BLANK)),
                Route("/wall", lambda _: FileResponse(PAGES / "wall.html")),
                Route("/wall/stream", self.stream),
                *said_routes(),
                Mount("/static", StaticFiles(directory=PAGES)),
            ],
            middleware=[Middleware(Guard, hosts=("127.0.0.1",), is_secure=False)],
        )
        listening = bound("127.0.0.1", 0)
        self.url = f"http://127.0.0.1:{listening.getsockname()[1]}"
        ready.set()
        await serve(app, listening, None, stop)


@contextmanager
def staged() -> Iterator[Stage]:
    """The stage in a thread of its own, as the browser's tests are not asynchronous."""
    stage, ready, ends = Stage(), threading.Event(), []

    async def run() -> None:
        stop = asyncio.Event()
        ends.append((asyncio.get_running_loop(), stop))
        await stage.run(ready, stop)

    thread = threading.Thread(target=lambda: asyncio.run(run()))
    thread.start()
    assert ready.wait(20)
    try:
        yield stage
    finally:
        loop, stop = ends[0]
        loop.call_soon_threadsafe(stop.set)
        thread.join(20)


def live(check: str | None = None, **figures: Any) -> dict[str, Any]:
    """As the bay says it: all keys."""
    usual: dict[str, Any] = {"inspection": INSPECTION, "cautions": CAUTIONS}
    if check in ("rim", "face"):
        usual |= {
            "gauge": "indicator-1", "angle_deg": 120.4, "turn": 0, "value_mm": 0.031, "min_mm": -0.082,
            "max_mm": 0.08, "max_deviation_mm": 0.162, "covered_deg": 120.9, "to_bar_deg": 244.1,
            "angle_source": "encoder", "limit_mm": 0.28, "readings": 400, "back_deg": 0.0, "back_times": 0,
        }  # fmt: skip
    return Live(check=check, **(usual | figures)).model_dump(mode="json")


def gauge(state: str = "connected", reason: str = "on its port", measures: str = "length") -> dict[str, Any]:
    """A gauge's state."""
    since = "2026-11-26T08:00:00Z"
    return {
        "state": state,
        "reason": reason,
        "since": since,
        "last": None,
        "measures": measures,
        "sends": None,
    }


def quiet() -> dict[str, Any]:
    """A bay at which nothing is open."""
    return {
        "away": None,
        "status": {"state": "online", "warnings": []},
        "gauges": {"indicator-1": gauge(), "encoder-1": gauge(measures="angle")},
        "live": live(inspection=None, cautions=()),
        "result": None,
        "trace": None,
        "second": None,
    }


def result(**changed: Any) -> dict[str, Any]:
    """A result document, cut to what the pages read."""
    return {
        "inspection": INSPECTION,
        "revision": 3,
        "state": "open",
        "opened": "2026-11-26T08:00:00Z",
        "engine": {"serial": "GQ-E-2207"},
        "damper": {"serial": "GQ-D-0815"},
        "verdict": "incomplete",
        "reasons": ["face: not measured yet"],
        "checks": {
            "visual": {"outcome": "good", "reason": "all 8 items seen and good", "items": [], "warnings": []},
            "rim": {
                "outcome": "within", "reason": "true TIR 0.173 mm ± 0.004 mm is within the limit",
                "limit_mm": 0.28, "tir_mm": 0.177, "true_tir_mm": 0.173313, "u_expanded_mm": 0.003945,
                "high_spot_deg": 41.0, "warnings": [],
            },
            "face": {"outcome": "missing", "reason": "not measured yet", "limit_mm": 0.28, "warnings": []},
        },
    } | changed  # fmt: skip


def opened(page: Page, stage: Stage, query: str = "", **settings: Any) -> None:
    """The wall, in a browser with these settings."""
    kept = "localStorage.setItem('ringtrue', JSON.stringify(%s))"
    told = {"unit": "mm", "lang": "en", "theme": "day", "sound": True} | settings
    page.add_init_script(kept % str(told).replace("True", "true").replace("False", "false"))
    page.goto(f"{stage.url}/wall{query}")


def rim(stage: Stage, **figures: Any) -> None:
    """A sweep of the rim runs."""
    stage.bay(live=live("rim", **figures), result=result())
