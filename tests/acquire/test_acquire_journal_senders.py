"""Who sends what the journal holds is woken for that alone: a sweep commits readings ten times a second."""

from __future__ import annotations

from pathlib import Path

from acquire.journal.events import Closed
from acquire.journal.outgoing import Outgoing
from acquire.journal.writer import Journal
from contract.units import Unit
from drivers.reading import Reading

UTC = "2026-03-02T06:00:00.000Z"


async def test_senders_are_woken_where_a_commit_may_have_brought_them_something(tmp_path: Path) -> None:
    woken: list[int] = []
    journal = Journal(tmp_path / "journal.db", on_messages=lambda: woken.append(0))

    async def wakes() -> int:
        await journal.flushed()
        # By the commit after it, which is of a reply alone, all have been told of the one before.
        await journal.committed(journal.append_reply("r0", b"{}"))
        told = len(woken)
        woken.clear()
        return told

    journal.append_sample(1, Reading("indicator-1", 1, 2, 3, Unit.NM))
    assert await wakes() == 0
    journal.done(1)
    assert await wakes() == 0
    journal.append(
        Closed(inspection="truck-14", time_ns=5), announce=lambda _: [Outgoing("mqtt", "e", b"{}")]
    )
    assert await wakes() == 1
    journal.put_result("truck-14", 1, b"{}", UTC, [Outgoing("records", "", b"{}")])
    assert await wakes() == 1
    journal.resend("", "a/", "/b", reply=("r1", b"{}"))
    assert await wakes() == 1
    journal.refill_records()
    assert await wakes() == 1
    journal.take_up()
    assert await wakes() == 1
    journal.close()


async def test_what_was_kept_after_a_clock_was_set_back_is_resent_too(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "journal.db")
    for n, utc in enumerate(
        ("2026-03-01T06:00:00.000Z", "2026-03-03T06:00:00.000Z", "2000-01-01T00:00:00.000Z")
    ):
        journal.put_result(f"i-{n}", 1, b"{}", utc)
    await journal.flushed()
    since = "2026-03-02T00:00:00.000Z"
    assert journal.count_results(since) == 2
    await journal.committed(journal.resend(since, "i/", "/r", reply=("r1", b"{}")))
    assert [row.topic for row in journal.pending("mqtt")] == ["i/i-1/r", "i/i-2/r"]
    assert [one.inspection for one in journal.results(since)] == ["i-1", "i-2"]
    journal.close()
