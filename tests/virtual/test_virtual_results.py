"""Every change of an inspection is graded, however soon it follows the one before."""

from __future__ import annotations

import asyncio
import random
from pathlib import Path
from typing import Any

from acquire.bay.bay import Bay
from acquire.grader import GradingService
from acquire.journal.reader import JournalReader
from acquire.results import Results
from contract.topics import Topics
from contract.wire import encode
from link.tasks import end
from simulators.loop import VirtualLoop
from tests.acquire.hand_clock import HandClock
from tests.acquire.workbench import bay_files
from tests.virtual.disk import VirtualDisk


async def at_once(func: Any, /, *args: Any, **kwargs: Any) -> Any:
    return func(*args, **kwargs)


def test_a_change_that_comes_while_the_one_before_is_being_written_is_graded_too(tmp_path: Path) -> None:
    files, clock = bay_files(tmp_path), HandClock()
    loop, path = VirtualLoop(clock), tmp_path / "journal.db"

    async def play() -> None:
        disk = VirtualDisk(random.Random(1), {})
        journal = disk.open_journal(path, on_messages=lambda: None, on_trouble=lambda _: None)
        grading = GradingService(lambda graded: results.keep(graded), at_once)
        results = Results(journal, grading, Topics("greywacke", "bay-2"), clock, at_once)
        bay = Bay(files.settings, files.method, files.profiles, journal, clock, results.due)
        bay.resume()
        tasks = [asyncio.ensure_future(grading.run()), asyncio.ensure_future(results.run())]
        opening = {"inspection": "i-1", "engine": "e", "damper": "d", "scope": "bench"}
        assert bay.command("open", encode({"id": "1", "operator": "R. Example", **opening})).ok
        for _ in range(3):
            await asyncio.sleep(0)  # it waits for the commit now
        assert bay.command("abandon", encode({"id": "2", "operator": "R. Example", "inspection": "i-1"})).ok
        await asyncio.sleep(5.0)
        await end(*tasks)
        journal.close()

    try:
        loop.run_until_complete(play())
    finally:
        loop.close()
    reader = JournalReader(path)
    try:
        stored = reader.result("i-1")
    finally:
        reader.close()
    assert stored is not None
    assert (stored.revision, b'"state":"abandoned"' in stored.document) == (2, True)
