"""The walks of the bench: one for each page that is open, which a reload finds again."""

from __future__ import annotations

import asyncio
import re
import time
from collections import OrderedDict
from collections.abc import Callable, Coroutine, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from config.errors import RingtrueError
from contract.lengths import UNITS, LengthUnit
from display.walk.bay import BayAtHand
from display.walk.walker import Walker
from display.web.page import as_data
from display.web.signing import Allows, allow_all
from display.words import Words
from link.tasks import end

TAB_ID = re.compile(r"[0-9a-f]{32}")
TABS_MAX = 40
SPARE_MAX = 20
"""Beyond these, pages that are open all at once are turned away; those that nobody looks at are put away."""
KEPT_S = 1800.0
"""Seconds for which a walk is kept that no page shows: a tablet that sleeps finds it again."""
TICK_S = 1.0
"""Seconds between two looks at the clock: dwells count on, and what is away is said."""
TEXT_MAX = 2000
FIELDS_MAX = 40
NOT_NOW = "Not now: the bay is away, or has to answer first."
OTHER_UNIT = "The unit has changed meanwhile: look again, and type lengths anew."


class NotNowError(RingtrueError):
    """The bay cannot be asked."""


class TooManyError(RingtrueError):
    """More walks than are kept at once."""


class Tab:
    """One walk of one person. bay: made for this person, told what to call when there is news. allows: as in
    Walker."""

    def __init__(
        self,
        person: str,
        signer: str,
        bay: Callable[[str, Callable[[], None]], BayAtHand],
        now_s: Callable[[], float],
        allows: Allows,
    ) -> None:
        self.person = person
        self._now_s = now_s
        self._nudges: set[Callable[[], None]] = set()
        self._bay = bay(person, self._changed)
        self._walker = Walker(
            self._bay,
            signer=signer,
            keep=None,
            spawn=self._beside,
            on_leave=self._leave,
            on_change=self._changed,
            allows=allows,
        )
        self._work: set[asyncio.Task[None]] = set()
        self._hearing = asyncio.ensure_future(self._bay.run())
        self.shown_s = now_s()
        self.is_left = False
        self.taken = 0
        """Counts up with each key that is taken: a page can tell that its own was."""

    def set_unit(self, unit: LengthUnit) -> None:
        """Lengths are shown and typed in it: numbers typed in another are gone."""
        if self._bay.unit != unit:
            self._bay.unit = unit
            self._walker.forget_numbers()
            self._changed()

    def set_words(self, words: Words) -> None:
        """What it says is said in them; what was typed is kept."""
        if self._bay.words != words:
            self._bay.words = words
            self._changed()

    @property
    def is_over(self) -> bool:
        """Whether the bay is heard no more: by a fault of ours, as it is heard for ever."""
        return self._hearing.done()

    @property
    def is_shown(self) -> bool:
        """Whether a page shows it."""
        return bool(self._nudges)

    @contextmanager
    def shown(self, nudge: Callable[[], None]) -> Iterator[Callable[[], dict[str, Any] | None]]:
        """While a page shows it. nudge: called when the page may be another. What it gives tells the page as
        it is now; None where it is as it was."""
        said: list[dict[str, Any]] = []

        def more() -> dict[str, Any] | None:
            if self.is_over:
                self._hearing.result()
            now = as_data(self._walker, self.person) | self._of_page()
            if said == [now]:
                return None
            said[:] = [now]
            return now

        self._nudges.add(nudge)
        try:
            yield more
        finally:
            self._nudges.discard(nudge)
            self.shown_s = self._now_s()

    def _of_page(self) -> dict[str, Any]:
        return {"left": self.is_left, "taken": self.taken, "unit": self._bay.unit.name}

    def press(
        self, name: str, key: str, typed: Mapping[str, str], unit: str, taken: int | None = None
    ) -> str | None:
        """A key on the page of this name, with what is typed there. unit: in which the page was drawn: a
        length is never read in another. taken: as the page had it, where it says so: pressed twice it counts
        once. None: it is taken; else why it is not: the page has changed since, or is waiting."""
        page = self._walker.show()
        choice = page.chosen(key)
        if page.name != name or choice is None or taken not in (None, self.taken):
            return "The page has changed meanwhile: look again."
        if unit != self._bay.unit.name:
            return OTHER_UNIT
        if self._walker.is_busy and not choice.away:
            return NOT_NOW
        for field in page.fields:
            if field.id in typed:
                self._walker.typed[field.id] = typed[field.id]
        self.taken += 1
        self._walker.press(key)
        return None

    async def photo(self, file: str, *, inspection: str, check: str, item: str, note: str) -> None:
        """Add a picture that is kept already. inspection: as the page had it when it was taken. Raises
        RefusedError, NotNowError."""
        if inspection != self._walker.place.inspection:
            raise NotNowError("It was taken for another inspection than is looked at now: take it again.")
        if self._walker.is_busy:
            raise NotNowError(NOT_NOW)
        said = {"inspection": inspection, "check": check, "item": item, "file": file, "note": note}
        await self._bay.ask("photo", said, settles=True)

    def _beside(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.ensure_future(work)
        self._work.add(task)
        task.add_done_callback(self._work.discard)

    def tick(self) -> None:
        """The clock went on."""
        self._changed()

    def _leave(self) -> None:
        """The page is left by its own way out: nothing at the bay is ended."""
        self.is_left = True

    def _changed(self) -> None:
        for nudge in tuple(self._nudges):
            nudge()

    async def close(self) -> None:
        """Hear nothing more. A command that is not answered yet is not asked again."""
        await end(self._hearing, *self._work)


class Tabs:
    """Run `run` as a task. bay: makes a person's bay."""

    def __init__(
        self,
        bay: Callable[[str, Callable[[], None]], BayAtHand],
        *,
        now_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._bay, self._now_s = bay, now_s
        self._tabs: OrderedDict[tuple[str, str], Tab] = OrderedDict()

    def of(
        self,
        tab: str,
        session: str,
        person: str,
        unit: str,
        *,
        words: Words,
        allows: Allows = allow_all,
    ) -> Tab:
        """The walk of a page, begun where it is new. session: whose it is: nobody takes another's. allows:
        as in Walker. Raises TooManyError."""
        key = session, tab
        found = self._tabs.get(key)
        if found is None or found.is_over:
            if len(self._tabs) >= TABS_MAX + SPARE_MAX:
                raise TooManyError("Too many pages are open: close one.")
            found = self._tabs[key] = Tab(person, person, self._bay, self._now_s, allows)
        self._tabs.move_to_end(key)
        found.set_unit(UNITS[unit])
        found.set_words(words)
        return found

    def find(self, tab: str, session: str) -> Tab | None:
        """The walk of a page, where there is one."""
        return self._tabs.get((session, tab))

    async def run(self) -> None:
        """For ever: the clock goes on, and what nobody looks at any more is put away."""
        try:
            while True:
                await asyncio.sleep(TICK_S)
                for tab in tuple(self._tabs.values()):
                    tab.tick()
                await self._put_away()
        finally:
            for tab in tuple(self._tabs.values()):
                await tab.close()

    async def _put_away(self) -> None:
        unseen = [key for key, tab in self._tabs.items() if not tab.is_shown]
        old = [key for key in unseen if self._now_s() - self._tabs[key].shown_s > KEPT_S]
        spare = [key for key in unseen if key not in old][: max(0, len(self._tabs) - len(old) - TABS_MAX)]
        for key in (*old, *spare):
            await self._tabs.pop(key).close()
