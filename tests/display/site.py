"""The pages of a bay on a real server on loopback, over brokers and bays in memory."""

from __future__ import annotations

import asyncio
import json
import ssl
from collections.abc import AsyncGenerator, AsyncIterator, Callable, Sequence
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast

import httpx
from starlette.routing import Route

from contract.lengths import UNITS
from contract.topics import Topics
from display.walk.bay import BayAtHand
from display.web.app import World, application
from display.web.camera import Camera
from display.web.doors import Doors
from display.web.feed import Feed
from display.web.people import People
from display.web.server import bound, serve
from display.web.tabs import Tabs
from link.tasks import end
from records.photos import keep_photo
from tests.link.outside import WAIT_S
from tests.ringtrue.inspecting.line import ADDRESS, Line

BAY = "greywacke/bay-2"
TOPICS = Topics("greywacke", "bay-2")
CREDENTIAL = "the bay's credential"
TAB = "0123456789abcdef" * 2
OWN = {"X-Ringtrue": "1"}


class Clock:
    """Wound by hand, for what takes hours."""

    def __init__(self) -> None:
        self.now_s = 1000.0


@dataclass
class Site:
    """root: where it is. failures: what it told of itself."""

    root: str
    line: Line
    world: World
    photos: Path
    clock: Clock
    verify: ssl.SSLContext | bool
    failures: list[BaseException] = field(default_factory=list)

    @asynccontextmanager
    async def browser(self) -> AsyncIterator[httpx.AsyncClient]:
        """Somebody who has not entered yet."""
        async with httpx.AsyncClient(
            base_url=self.root, verify=self.verify, headers=OWN, timeout=WAIT_S
        ) as made:
            yield made

    @asynccontextmanager
    async def entered(
        self, name: str = "R. Example", password: str = CREDENTIAL
    ) -> AsyncIterator[httpx.AsyncClient]:
        """Somebody who has."""
        async with self.browser() as made:
            answer = await made.post("/enter", data={"name": name, "password": password})
            assert answer.status_code == 200, answer.text
            yield made


Told = tuple[str, dict[str, Any]]


class Page:
    """A stream as a page reads it: its events, in order."""

    def __init__(self, response: httpx.Response) -> None:
        self.status = response.status_code
        self.headers = response.headers
        self._lines = cast("AsyncGenerator[str, None]", response.aiter_lines())
        self.heard: list[Told] = []

    async def next(self) -> Told:
        """The next event. Raises StopAsyncIteration at the end."""
        name = ""
        while True:
            line = await anext(self._lines)
            if line.startswith("event: "):
                name = line.removeprefix("event: ")
            if line.startswith("data: "):
                self.heard.append((name, json.loads(line.removeprefix("data: "))))
                return self.heard[-1]

    async def until(
        self, name: str, is_so: Callable[[dict[str, Any]], object] = lambda _: True
    ) -> dict[str, Any]:
        """The next event of this name of which that is so."""
        async with asyncio.timeout(WAIT_S):
            while True:
                found, data = await self.next()
                if found == name and is_so(data):
                    return data

    async def close(self) -> None:
        """Read no more; the reader's own generators come to their end in the next turns of the loop."""
        await self._lines.aclose()
        for _ in range(5):
            await asyncio.sleep(0)

    async def ends(self) -> None:
        """Read on until it ends."""
        try:
            async with asyncio.timeout(WAIT_S):
                while True:
                    await self.next()
        except StopAsyncIteration:
            return


@asynccontextmanager
async def stream(browser: httpx.AsyncClient, path: str) -> AsyncIterator[Page]:
    """One page's stream."""
    async with browser.stream("GET", path) as response:
        page = Page(response)
        try:
            yield page
        finally:
            await page.close()


def bench(tab: str = TAB, unit: str = "mm") -> str:
    """The bench's stream."""
    return f"/bench/stream?tab={tab}&unit={unit}&lang=en"


async def act(
    browser: httpx.AsyncClient,
    name: str,
    key: str,
    typed: dict[str, str] | None = None,
    tab: str = TAB,
    unit: str = "mm",
) -> httpx.Response:
    """Press a key."""
    pressed = {"tab": tab, "name": name, "key": key, "unit": unit, "typed": typed or {}}
    return await browser.post("/bench/act", json=pressed)


@asynccontextmanager
async def site(
    folder: Path,
    line: Line | None = None,
    *,
    people: Callable[[], People] | None = None,
    tls: ssl.SSLContext | None = None,
    verify: ssl.SSLContext | bool = True,
    now_s: Callable[[], float] | None = None,
    reads: Sequence[Route] = (),
    credential: str | None = CREDENTIAL,
    photos: Path | None = None,
) -> AsyncIterator[Site]:
    """It, while the block runs. now_s: of the bay; else it stands still."""
    line, clock, photos = line or Line(), Clock(), photos or folder / "photos"

    def bay(person: str, on_news: Callable[[], None]) -> BayAtHand:
        return BayAtHand(
            TOPICS,
            person,
            lambda: ADDRESS,
            unit=UNITS["mm"],
            now_s=now_s or (lambda: 0.0),
            on_news=on_news,
            connect=line.connect,
            chance=lambda: 0.0,
        )

    world = World(
        bay=BAY,
        feed=Feed(lambda: ADDRESS, connect=line.connect),
        tabs=Tabs(bay, now_s=lambda: clock.now_s),
        doors=Doors(people, lambda: credential, is_secure=tls is not None, now_s=lambda: clock.now_s),
        camera=Camera(lambda picture: keep_photo(picture, photos)),
        reads=reads,
        hosts=None if tls is not None else {"127.0.0.1", "localhost", "::1"},
        is_secure=tls is not None,
    )
    listening, stop = bound("127.0.0.1", 0), asyncio.Event()
    port = listening.getsockname()[1]
    root = f"http{'s' if tls is not None else ''}://127.0.0.1:{port}"
    made = Site(root, line, world, photos, clock, verify)
    serving = asyncio.ensure_future(
        serve(application(world, made.failures.append), listening, tls, stop, world.feed.end)
    )
    async with AsyncExitStack() as leaving:
        leaving.push_async_callback(_ended, serving, stop)
        yield made


async def _ended(serving: asyncio.Future[None], stop: asyncio.Event) -> None:
    stop.set()
    try:
        async with asyncio.timeout(WAIT_S):
            await serving
    finally:
        await end(serving)


async def settled(is_so: Callable[[], bool]) -> None:
    """Wait until something is so that the server does by itself."""
    async with asyncio.timeout(WAIT_S):
        while not is_so():  # noqa: ASYNC110 no event tells it
            await asyncio.sleep(0.005)


def result_of(patch: dict[str, Any]) -> dict[str, Any]:
    """The result in a patch."""
    return cast("dict[str, Any]", patch["result"])
