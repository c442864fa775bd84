"""The one look at the records after a start: what comes meanwhile is on its way, and no lack."""

from __future__ import annotations

import asyncio
from contextlib import closing
from pathlib import Path

import pytest

from acquire.bay.known import Known
from acquire.journal.outgoing import Outgoing
from acquire.journal.writer import Journal
from acquire.records import Feed
from contract.pauses import Pauses

UTC = "2026-03-02T06:00:00.000Z"


class Kept:
    """A result reaches the journal while these are counted."""

    def __init__(self, journal: Journal) -> None:
        self.journal = journal
        self.delivered: list[bytes] = []
        self.looks = 0
        self.looked = asyncio.Event()

    async def deliver(self, document: bytes) -> None:
        self.delivered.append(document)

    async def deliver_chain(self, record: bytes) -> None:
        raise AssertionError(record)

    async def is_new(self) -> bool:
        return False

    async def held(self, site: str, bay: str) -> int:
        self.looks += 1
        if self.looks == 2:
            self.looked.set()
        if self.looks == 1:
            self.journal.put_result("i-2", 1, b"{2}", UTC, [Outgoing("records", "", b"{2}")])
            await self.journal.flushed()
            return len(self.delivered) - 1  # as they were counted before it
        return len(self.delivered)

    async def register(self) -> Known:
        return Known()


async def test_a_result_that_comes_while_they_are_counted_is_stored_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("acquire.records.RECORDS_LOOK_S", 0.01)
    with closing(Journal(tmp_path / "journal.db")) as journal:
        journal.put_result("i-1", 1, b"{1}", UTC, [Outgoing("records", "", b"{1}")])
        await journal.flushed()
        kept = Kept(journal)
        feed = Feed(kept, journal, "greywacke", "bay-2", asyncio.to_thread, Pauses(0.01, 0.01))
        running = asyncio.ensure_future(feed.run())
        async with asyncio.timeout(20):
            await kept.looked.wait()
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
    assert kept.delivered == [b"{1}", b"{2}"]
