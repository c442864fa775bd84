"""Readings are not held by the daemon: a day in short (a whole one: `tests/benchmarks/memory.py`)."""

from __future__ import annotations

import gc
import sys
from pathlib import Path

import pytest

from tests.benchmarks.memory import GAUGES, PERIOD_NS, Day

ROUNDS, SWEEP_S, IDLE_S = 3, 10, 20
# Readings of a round. Held, each would be two blocks of memory and more.
READINGS = GAUGES * (2 * SWEEP_S + IDLE_S) * 1_000_000_000 // PERIOD_NS


@pytest.mark.slow
async def test_what_was_read_is_not_held_for_the_rest_of_the_day(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Eight gauges at 50 a second, an inspection a round; the first one fills what is bounded."""
    monkeypatch.setattr("tests.benchmarks.memory.SWEEP_S", SWEEP_S)
    day = Day(tmp_path)
    held = []
    async with day.up():
        for number in range(ROUNDS):
            await day.inspect(f"truck-{number}")
            await day.read_until(day.clock.now_ns + IDLE_S * 1_000_000_000, 0.0, 0.0)
            gc.collect()
            held.append(sys.getallocatedblocks())
    # Held, those of two rounds would be twice this and more; what ran before in this process moves it too.
    assert held[-1] - held[0] < 2 * READINGS
