"""Results never run ahead of the journal's commit."""

from __future__ import annotations

import asyncio
import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest

from acquire.bay.bay import Bay
from acquire.grader import GradingService
from acquire.journal.file import Batch, write_batch
from acquire.journal.reader import StoredResult
from acquire.journal.sealer import Sealer
from acquire.journal.writer import Journal
from acquire.memory import give_back
from acquire.results import Results
from config.bay import BayFiles, read_bay
from contract.topics import Topics
from contract.wire import encode
from link.tasks import end
from tests.acquire.hand_clock import HandClock
from tests.acquire.stand import Stand
from tests.link.outside import until

NONE = StoredResult("", 0, "", b"")
OPEN = {"id": "1", "operator": "me", "inspection": "i-1", "engine": "e", "damper": "d", "scope": "bench"}


@pytest.fixture
def files(tmp_path: Path) -> BayFiles:
    return read_bay(Stand().config(tmp_path, ""), {})


def wire(files: BayFiles, journal: Journal) -> tuple[Bay, GradingService, Results]:
    clock = HandClock()
    grading = GradingService(lambda graded: results.keep(graded))
    results = Results(journal, grading, Topics("greywacke", "bay-2"), clock)
    bay = Bay(files.settings, files.method, files.profiles, journal, clock, results.due)
    bay.resume()
    return bay, grading, results


async def test_nothing_is_graded_before_it_is_on_the_disk(
    files: BayFiles, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate = threading.Event()

    def gated(connection: sqlite3.Connection, batch: Batch, sealer: Sealer | None) -> None:
        gate.wait()
        write_batch(connection, batch, sealer)

    monkeypatch.setattr("acquire.journal.writer.write_batch", gated)
    journal = Journal(tmp_path / "j.db")
    bay, grading, results = wire(files, journal)
    tasks = [asyncio.ensure_future(grading.run()), asyncio.ensure_future(results.run())]
    assert bay.command("open", encode(OPEN), False).ok
    for _ in range(50):
        await asyncio.sleep(0)
    assert grading.statistics().graded == 0
    assert not grading._waiting
    gate.set()
    await until(lambda: journal.latest_result() is not None)
    await end(*tasks)
    rows = journal.pending("mqtt")
    assert [row.topic.rpartition("/")[2] for row in rows] == ["event", "result", "result"]
    assert rows[1].payload == rows[2].payload
    assert [row.payload for row in journal.pending("records")] == [rows[1].payload]
    journal.close()


async def test_what_a_crash_kept_from_being_graded_is_graded_at_the_next_start(
    files: BayFiles, tmp_path: Path
) -> None:
    journal = Journal(tmp_path / "j.db")
    bay, _, _ = wire(files, journal)
    bay.command("open", encode(OPEN), False)
    await journal.flushed()
    journal.close()  # before anything was graded

    journal = Journal(tmp_path / "j.db")
    _, grading, results = wire(files, journal)
    tasks = [asyncio.ensure_future(grading.run()), asyncio.ensure_future(results.run())]
    await results.look_back()
    await until(lambda: journal.latest_result() is not None)
    await journal.flushed()
    await results.look_back()
    await grading.wait_idle()
    assert grading.statistics().graded == 1
    await end(*tasks)
    journal.close()


async def test_memory_is_given_back_after_each_result(
    files: BayFiles, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given_back = threading.Event()

    def give_back_and_tell() -> None:
        give_back()
        given_back.set()

    monkeypatch.setattr("acquire.grader.give_back", give_back_and_tell)
    journal = Journal(tmp_path / "j.db")
    bay, grading, results = wire(files, journal)
    tasks = [asyncio.ensure_future(grading.run()), asyncio.ensure_future(results.run())]
    assert bay.command("open", encode(OPEN), False).ok
    assert await asyncio.to_thread(given_back.wait, 10)
    await end(*tasks)
    await asyncio.to_thread(journal.close)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            '"value_nm":25200000',
            '"value_nm":25100000',
            "its readings in {path} are not those of its revision 5",
        ),
        ('"seen":"bad"', '"seen":"good"', "its findings by eye in {path} are not those of its revision 5"),
        ('"serial":"d"', '"serial":"x"', "its engine and damper in {path} are not those of its revision 5"),
        (
            '"limit_mm":0.25',
            '"limit_mm":0.95',
            "the method that i-1 was opened with is not what its hash says",
        ),
    ],
)
async def test_what_a_disk_or_a_hand_has_altered_gets_no_other_result(
    files: BayFiles, tmp_path: Path, old: str, new: str, words: str
) -> None:
    """Signing grades anew from the journal: a byte of a reading or a limit made a keep of it."""
    journal = Journal(tmp_path / "j.db")
    bay, grading, results = wire(files, journal)
    tasks = [asyncio.ensure_future(grading.run()), asyncio.ensure_future(results.run())]

    def ask(command: str, **said: object) -> None:
        request = f"{command}-{said.get('value_mm')}"
        assert bay.command(command, encode({"id": request, "operator": "me", **said}), False).ok

    assert bay.command("open", encode(OPEN), False).ok
    for value_mm in (25, 25.2):
        ask("record", check="thickness", station_deg=0, radius="outer", value_mm=value_mm)
    ask("record", check="visual-bench", items=[{"item": "rim", "seen": "bad"}])
    ask("close", inspection="i-1")
    await until(lambda: (journal.latest_result() or NONE).revision == 5)
    with closing(sqlite3.connect(tmp_path / "j.db")) as db, db:
        db.execute("UPDATE event SET body = replace(body, ?, ?)", (old, new))
    ask("sign", inspection="i-1", name="R. Example", sure=True)
    await until(lambda: bool(results.warnings))
    (warning,) = results.warnings
    assert words.format(path=journal.path) in warning
    assert (journal.latest_result() or NONE).revision == 5
    await end(*tasks)
    journal.close()
