"""A disk that is full, and has room again; a journal's file that is taken away, and put back."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import threading
import warnings
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

import pytest

from acquire.bay.evidence import to_evidence
from acquire.bay.inspection import Take
from acquire.journal.writer import Trouble
from contract.units import Unit
from grading.evidence import Sweep
from tests.acquire.workbench import ENCODER, INDICATOR, Workbench

TINY_KB = 512

pytestmark = pytest.mark.filterwarnings("default:no right to mount")


@dataclass
class TinyDisk:
    """Where the journal lies, and how that place is filled and emptied."""

    folder: Path
    prepare: Callable[[sqlite3.Connection], None]
    fill: Callable[[], None]
    free: Callable[[], None]


@pytest.fixture(params=["filesystem", "pages"])
def tiny_disk(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[TinyDisk]:
    """`filesystem`: a real one of half a megabyte. `pages`: SQLite's own limit (max_page_count), which
    fails the same statements with the same SQLITE_FULL, though not the write-ahead log; it stands in
    for the other too where a test run has no right to mount, which the run's summary then says.
    """
    folder = tmp_path / "tiny"
    folder.mkdir()
    mounting = ["mount", "-t", "tmpfs", "-o", f"size={TINY_KB}k", "tmpfs", str(folder)]
    may_mount = request.param == "filesystem" and os.geteuid() == 0
    if may_mount and subprocess.run(mounting, check=False, capture_output=True).returncode == 0:
        ballast = folder / "ballast"

        def fill() -> None:
            with ballast.open("wb", buffering=0) as file, suppress(OSError):
                while True:
                    file.write(bytes(4096))

        try:
            yield TinyDisk(folder, lambda _: None, fill, ballast.unlink)
        finally:
            subprocess.run(["umount", str(folder)], check=True)
    else:
        if request.param == "filesystem":
            warnings.warn("no right to mount: no real file system was filled", stacklevel=1)
        room = [3]  # pages beyond the empty tables: an opened inspection takes most of them

        def prepare(db: sqlite3.Connection) -> None:
            (used,) = db.execute("PRAGMA page_count").fetchone()
            db.execute(f"PRAGMA max_page_count = {used + room[0]}")
            if room[0] < 1000:
                room[0] = 0  # opened anew while full: no more room than before

        yield TinyDisk(folder, prepare, lambda: None, lambda: room.__setitem__(0, 100_000))


@pytest.mark.slow
def test_a_full_disk_says_so_keeps_the_inspection_and_recovers(tiny_disk: TinyDisk) -> None:
    told: list[Trouble | None] = []
    news = threading.Event()

    def on_trouble(trouble: Trouble | None) -> None:
        told.append(trouble)
        news.set()

    bench = Workbench(tiny_disk.folder, prepare=tiny_disk.prepare, on_trouble=on_trouble, retry_s=0.02)
    with closing(bench):
        fill_and_free(bench, tiny_disk, told, news)


def fill_and_free(
    bench: Workbench, tiny_disk: TinyDisk, told: list[Trouble | None], news: threading.Event
) -> None:
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.bar(0, 20)
    bench.flush()
    assert not told
    tiny_disk.fill()
    # Readings go on, until one of them finds no room.
    angle = 20
    while not news.is_set():
        assert angle < 330
        bench.bar(angle, angle + 10)
        angle += 10
        news.wait(0.1)
    assert told[0] is not None
    assert told[0].code == "disk-full"
    assert "free some space" in told[0].text
    live = bench.bay.live()
    assert live is not None
    assert told[0].text in live.warnings
    # A command is refused with nothing changed, and not remembered as refused.
    refusal = bench.send_raw("end", {"id": "ending", "operator": "R. Example"})
    assert refusal["error"]["code"] == "disk-full"
    assert bench.bay.is_sweeping
    news.clear()
    bench.bar(angle, 350)
    tiny_disk.free()
    assert news.wait(10)
    assert told[-1] is None
    bench.bar(350, 400)
    assert not bench.bay.is_sweeping
    state = bench.state()
    (take,) = state.finished
    assert isinstance(take, Take)
    assert [e.kind for e in take.events] == ["sample"] * (2 * 366)
    assert bench.journal.trouble is None
    bench.do("begin", check="face", gauge=INDICATOR)
    assert bench.send_raw("end", {"id": "ending", "operator": "R. Example"})["ok"]
    bench.restart()
    assert bench.state().revision == 3


@pytest.mark.slow
def test_too_much_for_memory_is_dropped_counted_and_reaches_the_sweep(tmp_path: Path) -> None:
    bench = Workbench(tmp_path, waiting_max=50, retry_s=0.02)
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.flush()
    lock = sqlite3.connect(bench.path)
    lock.execute("BEGIN EXCLUSIVE")
    bench.bar(0, 100)
    assert bench.journal.statistics().dropped >= 150
    lock.rollback()
    lock.close()
    bench.flush()
    bench.wait(0.01)
    bench.read(ENCODER, 100_000_000, Unit.UDEG)
    bench.read(INDICATOR, 1)
    bench.do("end")
    (sweep,) = to_evidence(bench.state()).attempts["rim"]
    assert isinstance(sweep, Sweep)
    assert sweep.lost >= 70
    bench.close()


def test_a_journal_that_is_taken_away_while_it_is_written_is_said_and_nothing_is_lost(tmp_path: Path) -> None:
    """SQLite goes on writing to a file that has no name any more: all of it was gone at the next start."""
    told: list[Trouble | None] = []
    said, mended = threading.Event(), threading.Event()

    def on_trouble(trouble: Trouble | None) -> None:
        told.append(trouble)
        (mended if trouble is None else said).set()

    with closing(Workbench(tmp_path, on_trouble=on_trouble, retry_s=0.02)) as bench:
        bench.open()
        bench.flush()
        file, aside = bench.journal.path, tmp_path / "aside"
        file.rename(aside)
        bench.send("begin", check="rim", gauge=INDICATOR)
        assert said.wait(10)
        assert told[0] is not None
        assert (told[0].code, "taken away or exchanged" in told[0].text) == ("journal-failed", True)
        assert bench.send("end")["error"]["code"] == "journal-failed"
        assert not file.exists()
        aside.rename(file)
        assert mended.wait(10)
        bench.do("end")
        bench.restart()
        assert [event.kind for event in bench.journal.read(str(bench.bay.latest))][:3] == [
            "opened", "sweep-begun", "sweep-ended",
        ]  # fmt: skip
