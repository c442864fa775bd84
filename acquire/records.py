"""The records as the daemon sees them, and what keeps them whole: every result once, whoever deletes them."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from typing import Protocol

import structlog

from acquire.aside import Aside
from acquire.bay.known import Known
from acquire.errors import NotTakenError
from acquire.journal.outbox import Outbox
from acquire.journal.outgoing import CHAIN
from acquire.journal.writer import Journal
from acquire.publisher import OUTBOX_ROWS
from contract.pauses import Pauses

# Seconds between two looks whether the records are still the ones they were.
RECORDS_LOOK_S = 10.0
# Results of which it is told one by one that the records do not take them.
TOLD_MOST = 3


class Records(Protocol):
    """The store of results and its register. Each may raise anything where the store cannot be used now, and
    is asked again."""

    async def deliver(self, document: bytes) -> None:
        """Keep one result document for good, the same one twice as one. NotTakenError where never."""

    async def deliver_chain(self, record: bytes) -> None:
        """The same of one record of the chain."""

    async def is_new(self) -> bool:
        """Whether they have been found to hold nothing, or others, since this was last asked."""

    async def held(self, site: str, bay: str) -> int:
        """How many results of a bay they hold."""

    async def register(self) -> Known:
        """What the register says now of engines, dampers and gauges."""


class Feed:
    """Brings the results of a bay's journal into the records. on_warning: called where the records do not
    take one, which `warnings` tells."""

    def __init__(
        self,
        records: Records,
        journal: Journal,
        site: str,
        bay: str,
        aside: Aside,
        pauses: Pauses,
        on_warning: Callable[[], None] = lambda: None,
    ) -> None:
        self._records = records
        self._journal = journal
        self._of = site, bay
        self._aside = aside
        self._pauses = pauses
        self._grew = asyncio.Event()
        self._on_warning = on_warning
        self._log = structlog.get_logger().bind(bay=f"{site}/{bay}")
        self._not_taken: list[str] = []

    @property
    def warnings(self) -> tuple[str, ...]:
        """Which results are not in the records, and why; they stay until the daemon ends: somebody has to
        look."""
        more = len(self._not_taken) - TOLD_MOST
        shown = self._not_taken[:TOLD_MOST]
        return (*shown, f"{more} more results are not in the records either") if more > 0 else tuple(shown)

    def outbox_grew(self) -> None:
        """There may be something to deliver."""
        self._grew.set()

    async def run(self) -> None:
        """For ever."""
        outbox = Outbox(self._journal, "records", self._aside)
        deliver = {"": self._records.deliver, CHAIN: self._records.deliver_chain}
        said, has_looked = "", False
        while True:
            self._grew.clear()
            rows = await outbox.pending(OUTBOX_ROWS)
            try:
                await self._refill()
                for row in rows:
                    try:
                        await deliver[row.topic](row.payload)
                    except NotTakenError as error:
                        self._warn(str(error))
                    await outbox.done(row.id)
                if not rows and not has_looked:
                    has_looked = await self._fill_up(outbox)
            except Exception as err:  # a database may fail in any way of its own
                if str(err) != said:
                    said = str(err)
                    self._log.warning("records cannot be kept now; results wait", reason=said)
                await self._pauses.wait()
                continue
            self._pauses.anew()
            said = ""
            if not rows:
                with suppress(TimeoutError):
                    async with asyncio.timeout(RECORDS_LOOK_S):
                        await self._grew.wait()

    def _warn(self, why: str) -> None:
        self._log.error("record refused", reason=why)
        if why not in self._not_taken:
            self._not_taken.append(why)
            self._on_warning()

    async def _refill(self) -> None:
        """Records that were deleted, or exchanged for others, get all results again."""
        if not await self._records.is_new():
            return
        results = await self._aside(self._journal.count_results, "")
        if results:
            self._log.warning("records are new; all results of the journal are stored again", results=results)
        self._journal.refill_records()

    async def _fill_up(self, outbox: Outbox) -> bool:
        """Once after a start, when nothing waits any more: records that were made anew by a daemon that ended
        before it had filled them lack results. False where something came meanwhile, which is no lack."""
        results = await self._aside(self._journal.count_results, "")
        lacking = results - await self._records.held(*self._of)
        if lacking > 0 and await outbox.pending(1):
            return False
        if lacking > 0:
            self._log.warning("records lack results; all of the journal's are stored again", lacking=lacking)
            self._journal.refill_records()
        return True
