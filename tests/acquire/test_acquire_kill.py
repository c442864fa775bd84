"""A daemon's core that is killed (SIGKILL) at any moment of a sweep, and started again."""

from __future__ import annotations

import random
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from acquire.bay.evidence import to_evidence
from acquire.journal.events import Event, Sample
from acquire.journal.reader import JournalReader
from grading.evidence import Sweep
from tests.acquire.sweeping import BEGIN, INSPECTION, OPEN
from tests.acquire.workbench import INDICATOR, Workbench

KILLS = 6
MOST_S = 60.0


def sweep_and_kill(folder: Path, rng: random.Random) -> int:
    """Run until some time after it is ready, kill it; the last value that it said was committed."""
    with subprocess.Popen(
        [sys.executable, "-m", "tests.acquire.sweeping", str(folder)], stdout=subprocess.PIPE, text=True
    ) as process:
        watchdog = threading.Timer(MOST_S, process.kill)
        watchdog.start()
        killer = threading.Timer(rng.uniform(0.0, 0.4), process.kill)
        committed = 0
        assert process.stdout is not None
        for line in process.stdout:
            words = line.split()
            if words and words[0] in ("ready", "committed"):
                committed = int(words[1])
            if words and words[0] == "ready":
                killer.start()
        watchdog.cancel()
        killer.cancel()
    assert process.returncode == -9
    return committed


def values_of(events: list[Event]) -> list[int]:
    return [e.value for e in events if isinstance(e, Sample) and e.gauge == INDICATOR]


@pytest.mark.slow
def test_a_sweep_survives_being_killed_at_any_moment(tmp_path: Path) -> None:
    seed = 20260302
    rng = random.Random(seed)
    last = 0
    for kill in range(KILLS):
        committed = sweep_and_kill(tmp_path, rng)
        reader = JournalReader(tmp_path / "journal.db")
        events = reader.read(INSPECTION)
        values = values_of(events)
        # Every committed reading is there, none is there twice, none is missing between two.
        assert values == list(range(1, len(values) + 1)), (seed, kill)
        assert len(values) >= committed >= last, (seed, kill)
        last = len(values)
        # The same two requests were sent at each start, and done once.
        assert [e.kind for e in events].count("opened") == 1
        assert [e.kind for e in events].count("sweep-begun") == 1
        assert [e.kind for e in events].count("resumed") == kill
        assert reader.open_inspection() == INSPECTION
        for said in (OPEN, BEGIN):
            assert reader.reply(str(said["id"])) is not None
        # An event is out, or will be, exactly when it is in the journal.
        waiting = reader.waiting("mqtt", 1000)
        assert len(waiting) == len([e for e in events if e.kind != "sample"])
        reader.close()
    assert last > KILLS * 20
    # It goes on where it was, to its end.
    bench = Workbench(tmp_path)
    bench.clock.advance_to(10**12)
    assert bench.bay.is_sweeping
    bench.bar(0, 500)
    assert not bench.bay.is_sweeping
    (sweep,) = to_evidence(bench.state()).attempts["rim"]
    assert isinstance(sweep, Sweep)
    assert sweep.interrupted == ("the daemon was restarted",) * KILLS
    assert sweep.angle_deg.max() - sweep.angle_deg.min() >= 364
    # Or is repeated.
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.do("cancel")
    bench.close()
