"""From a source into the database, a batch at a time, for as long as it takes."""

from __future__ import annotations

import asyncio
import gc
import sys
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator, Sequence
from contextlib import aclosing, contextmanager, suppress
from datetime import UTC, datetime
from typing import Any, Literal

import structlog

from contract.pauses import Pauses
from link.tasks import end
from records.errors import RecordsUnavailableError
from records.fleet.arriving import Batch, Source
from records.fleet.filing import Filed, Filing
from records.fleet.reading import Read

COLLECT_AFTER = 100_000
"""New objects before a look for circles among them. A batch makes many thousand, which make none, and all
live until it is filed: looking at them at Python's own 700 took an eighth of a writer's processor time."""
SWITCH_S = 0.05
"""How long one thread goes on before another may: ten times Python's own. A batch that is read and one that
is filed hinder each other less (a tenth of the processor time), and nothing here is more urgent than that."""
AGAIN_FIRST_S, AGAIN_MAX_S = 0.2, 30.0
"""First and longest pause before a batch that the database did not take is tried again."""
TELL_EVERY_S = 60.0
"""Between two lines of the log that say how much came."""
LOOK_EVERY_S = 60.0
"""Between two looks for what is missing, or too much."""


@contextmanager
def to_itself() -> Iterator[None]:
    """For a process that a writer has to itself: while the block runs Python looks for circles seldom, never
    at what is there already, and changes between threads seldom."""
    before, switch_s = gc.get_threshold(), sys.getswitchinterval()
    gc.freeze()
    gc.set_threshold(COLLECT_AFTER, *before[1:])
    sys.setswitchinterval(SWITCH_S)
    try:
        yield
    finally:
        sys.setswitchinterval(switch_s)
        gc.set_threshold(*before)
        gc.unfreeze()


class Writer:
    """Until it is left: nothing is acknowledged to the source before it is committed. looks: what else is
    done once in a while, each where the database lets it."""

    def __init__(
        self,
        source: Source,
        filing: Filing,
        looks: Sequence[Callable[[], Awaitable[None]]] = (),
        utc: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self._source, self._filing, self._looks, self._utc = source, filing, looks, utc
        self._log = structlog.get_logger()
        self._leaving = asyncio.Event()
        self._looking: asyncio.Future[None] | None = None
        self._is_held = False
        self._sum, self._batches = Filed(), 0

    def leave(self) -> None:
        """End after the batch at hand."""
        self._leaving.set()

    async def run(self) -> None:
        """Until `leave`."""
        beside: list[asyncio.Future[Any]] = [
            asyncio.ensure_future(work) for work in (self._tell(), self._look())
        ]
        leaving = asyncio.ensure_future(self._leaving.wait())
        try:
            # Of an iterator it is not known that it can be closed; each of ours can.
            async with aclosing(self._source.batches()) as batches:  # type: ignore[type-var]
                await self._all(batches, leaving, beside)
        finally:
            await end(leaving, *beside)
            if self._looking is not None:
                # What works in a thread cannot be called off: the database is not closed beneath it.
                await asyncio.gather(self._looking, return_exceptions=True)
            self._say()

    async def _all(
        self,
        batches: AsyncIterator[Batch],
        leaving: asyncio.Future[Literal[True]],
        beside: Sequence[asyncio.Future[Any]],
    ) -> None:
        coming = asyncio.ensure_future(self._next(batches))
        try:
            while not leaving.done():
                any_of: set[asyncio.Future[Any]] = {coming, leaving, *beside}
                await asyncio.wait(any_of, return_when=asyncio.FIRST_COMPLETED)
                for task in beside:
                    if task.done():
                        task.result()
                if not coming.done():
                    return
                batch, reads = coming.result()
                # One ahead, read and verified while the database works.
                coming = asyncio.ensure_future(self._next(batches))
                await self._take(batch, reads, leaving)
        finally:
            await end(coming)

    async def _next(self, batches: AsyncIterator[Batch]) -> tuple[Batch, Sequence[Read]]:
        batch = await anext(batches)
        return batch, await asyncio.to_thread(self._filing.read, batch.messages)

    async def _take(
        self, batch: Batch, reads: Sequence[Read], leaving: asyncio.Future[Literal[True]]
    ) -> None:
        """File it, however long the database is away; then have it acknowledged."""
        pauses = Pauses(AGAIN_FIRST_S, AGAIN_MAX_S)
        while True:
            try:
                filed = await asyncio.to_thread(self._filing.put, reads)
                break
            except RecordsUnavailableError as error:
                if not self._is_held:
                    self._log.error("nothing is acknowledged until the database takes it", reason=str(error))
                self._is_held = True
                waiting = asyncio.ensure_future(pauses.wait())
                await asyncio.wait((waiting, leaving), return_when=asyncio.FIRST_COMPLETED)
                await end(waiting)
                if leaving.done():
                    return
        if self._is_held:
            self._log.info("the database takes results again")
        self._is_held = False
        await batch.taken()
        self._note(filed)

    def _note(self, filed: Filed) -> None:
        for refused in filed.refused:
            say = self._log.info if refused.reason == "newer" else self._log.warning
            say("a message is refused, and kept", topic=refused.topic, reason=refused.reason, why=refused.why)
        for broken in filed.broken:
            self._log.error("a chain is broken", place=broken.in_words())
        self._sum.add(filed)
        self._batches += 1

    async def _tell(self) -> None:
        while True:
            await asyncio.sleep(TELL_EVERY_S)
            self._say()

    def _say(self) -> None:
        """What came since this was last said."""
        if self._batches:
            lag_s = None
            with suppress(ValueError, TypeError, OverflowError):  # a bay's clock says what it likes
                if self._sum.time is not None:
                    lag_s = round((self._utc() - datetime.fromisoformat(self._sum.time)).total_seconds(), 1)
            self._log.info(
                "filed", results=self._sum.results, records=self._sum.records, batches=self._batches,
                refused=len(self._sum.refused), broken=len(self._sum.broken), oldest_s=lag_s,
            )  # fmt: skip
        self._sum, self._batches = Filed(), 0

    async def _look(self) -> None:
        is_blind = False
        while True:
            await asyncio.sleep(LOOK_EVERY_S)
            said = ""
            for look in self._looks:
                try:
                    self._looking = asyncio.ensure_future(look())
                    await asyncio.shield(self._looking)
                except RecordsUnavailableError as error:
                    said = str(error)
            if said and not is_blind:
                self._log.warning("what is missing, or too much, cannot be told now", reason=said)
            is_blind = bool(said)
