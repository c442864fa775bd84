"""A person at the walk's screen: reads what it shows, presses keys, and waits for what must come."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

from textual.events import Key
from textual.pilot import Pilot
from textual.widgets import Static

from config.method import Method
from contract.lengths import UNITS
from contract.terms import ObservedName
from display.walk.bay import BayAtHand
from display.walk.view import PictureKept
from display.words import Words
from ringtrue.inspecting.app import InspectApp
from ringtrue.inspecting.widgets import Target
from tests.ringtrue.inspecting.bay import MemoryBay
from tests.ringtrue.inspecting.line import ADDRESS

# Seconds that anything may take; the machine may be busy.
WAIT_S = 30.0
# Messages from a key that is no letter to the change of focus that may come of it.
HOPS = 4


class Screen:
    """One person's screen."""

    def __init__(self, app: InspectApp, pilot: Pilot[None]) -> None:
        self.app = app
        self.pilot = pilot

    @property
    def text(self) -> str:
        """All that stands on it, from top to bottom."""
        parts = [part for part in self.app.query(Static) if part.display]
        big = [f"BIG {self.app.page.big}"] if self.app.page.big is not None else []
        return "\n".join([*big, *(str(part.content) for part in parts)])

    @property
    def flat(self) -> str:
        """The same in one line."""
        return " ".join(self.text.split())

    async def see(self, *words: str) -> None:
        """Wait until all of these stand there."""
        try:
            async with asyncio.timeout(WAIT_S):
                while not all(word in self.flat for word in words):  # noqa: ASYNC110 the screen tells nobody
                    await asyncio.sleep(0.01)
        except TimeoutError:
            missing = [word for word in words if word not in self.flat]
            raise AssertionError(f"never seen: {missing}; this is:\n{self.text}") from None

    async def press(self, *keys: str) -> None:
        """Press each once the page takes it."""
        for key in keys:
            await self.ready()
            await self.strike(key)

    async def type(self, *texts: str) -> None:
        """Type one field after another, each ended by Enter."""
        for text in texts:
            await self.ready()
            await self.strike(*text, "enter")

    async def strike(self, *keys: str) -> None:
        """Press keys whether the page takes them or not; each has been taken in afterwards.

        Not by the pilot, which waits for the whole process to rest: gauges that send never do.
        """
        for key in keys:
            self.app.post_message(Key(key, key if len(key) == 1 else None))
            for _ in range(1 if len(key) == 1 else HOPS):
                for part in (self.app, self.app.focused or self.app.screen, self.app):
                    taken = asyncio.Event()
                    part.call_later(taken.set)
                    while not taken.is_set() and part.is_attached:  # noqa: ASYNC110 (it may go with its page)
                        await asyncio.sleep(0)

    def fits(self, size: tuple[int, int]) -> bool:
        """Whether, at this size, what is asked and all choices are in sight, each whole."""
        says, panel, asks = (self.app.query_one(name) for name in ("#says", "#panel", "#asks"))
        return (
            self.app.size == size
            and says.region.height > 0
            and panel.max_scroll_y == asks.max_scroll_y == 0
            and panel.region.bottom <= asks.region.y
            and asks.region.bottom <= self.app.size.height
        )

    async def ready(self) -> None:
        """Wait until nothing is asked any more, and the page is the one that the bay's state asks for."""
        try:
            async with asyncio.timeout(WAIT_S):
                while not self._is_ready():  # noqa: ASYNC110 the screen tells nobody
                    await asyncio.sleep(0.01)
        except TimeoutError:
            raise AssertionError(f"still busy:\n{self.text}") from None

    def _is_ready(self) -> bool:
        app = self.app
        targets = app.query(Target)
        keys = [choice.key for choice in app.page.choices]
        return (
            not app._changed.is_set()
            and not app._walker.is_busy
            and [target.key for target in targets] == keys
            and not any(target.has_class("off") for target in targets)
            and (app.focused is not None or not (app.page.fields or app.page.main))
        )


async def opened(screen: Screen, scope: str = "1", *, read: bool = True) -> None:
    """Open one, and read its cautions."""
    await screen.see("Which engine")
    await screen.type("GQ-E-2207", "GQ-D-0815", "11840", "", "WO 17", "rolled", "viscous", "", "truck-14")
    await screen.see("What is inspected?", "Engine GQ-E-2207")
    await screen.press(scope)
    await screen.see("read this first")
    if read:
        await screen.press("enter")


async def all_good(screen: Screen, method: Method, check: ObservedName = "visual") -> None:
    for rule in method.observed[check].item:
        await screen.see(" ".join(rule.text.split()))
        await screen.press("g")


@asynccontextmanager
async def screen_of(
    bay: MemoryBay,
    *,
    operator: str = "R. Example",
    size: tuple[int, int] = (80, 40),
    unit: str = "mm",
    language: str = "en",
    keep: Callable[[Path], PictureKept] | None = None,
) -> AsyncIterator[Screen]:
    """A screen at a bay in memory."""
    app = InspectApp(
        lambda on_news: BayAtHand(
            bay.topics,
            operator,
            lambda: ADDRESS,
            unit=UNITS[unit],
            words=Words(language),
            now_s=bay.now_s,
            on_news=on_news,
            connect=bay.line.connect,
            chance=lambda: 0.0,
        ),
        signer=operator,
        keep=keep,
    )
    async with app.run_test(size=size) as pilot:
        yield Screen(app, pilot)
