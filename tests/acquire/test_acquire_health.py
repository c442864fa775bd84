from __future__ import annotations

from pathlib import Path

from acquire.health import Health, Machine
from acquire.journal.events import Closed
from acquire.journal.outgoing import Destination, Outgoing
from acquire.journal.writer import Journal
from acquire.publisher import PublisherStatistics
from tests.acquire.hand_clock import HandClock

SENT = PublisherStatistics(40, 2, 40, 9, 3, 0, 5, 1)


class Queues:
    def __init__(self) -> None:
        self.waiting: dict[Destination, tuple[int, int]] = {"mqtt": (0, 0), "records": (0, 0)}

    def queue(self, destination: Destination) -> tuple[int, int]:
        return self.waiting[destination]


def test_what_waits_is_said_with_its_age() -> None:
    clock, queues = HandClock(now_ns=10**9), Queues()
    health = Health(clock, queues, Path("var"), lambda folder: Machine(len(str(folder)), 7), lambda: SENT)

    def oldest_s() -> float:
        return health.told().outbox["records"].oldest_s

    assert oldest_s() == 0
    queues.waiting["records"] = (3, 41)
    assert oldest_s() == 0
    clock.now_ns += 12_340_000_000
    assert oldest_s() == 12.3
    queues.waiting["records"] = (2, 42)  # the first has gone, another is the oldest now
    assert oldest_s() == 0
    clock.now_ns += 5 * 10**9
    told = health.told()
    assert (told.outbox["records"].waiting, told.outbox["records"].oldest_s) == (2, 5)
    assert (told.outbox["mqtt"].waiting, told.readings_dropped, told.connects) == (0, 2, 1)
    assert (told.disk_free_bytes, told.resident_bytes, told.up_s) == (3, 7, 17.3)
    queues.waiting["records"] = (0, 0)
    assert oldest_s() == 0


async def test_the_journal_counts_what_waits(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "journal.db")
    try:
        assert journal.queue("records") == (0, 0)
        messages = [Outgoing("records", "", b"{}"), Outgoing("records", "", b"{}")]
        event = Closed(inspection="i-1", time_ns=0, operator="R. Example")
        (kept,) = journal.append(event, announce=lambda _: messages)
        await journal.committed(kept.seq)
        count, first = journal.queue("records")
        assert (count, first) == (2, journal.pending("records")[0].id)
        assert journal.queue("mqtt") == (0, 0)
    finally:
        journal.close()
