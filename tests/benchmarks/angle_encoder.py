"""`python -m tests.benchmarks.angle_encoder [--turns N]`: what an encoder's tags know, and their speed.

Tags seeded turns (`tests/acquire/encoder_turns.py`) as the bay does, and prints a line for each cell of the
grid and for each kind of gauge: the share of readings whose angle +-2 u holds, with its standard error; how
far they are off (rms, degrees), moving and standing apart; and what is said of it (u, rms). Nothing but the
encoder's value is known of a crank that stands: its step / sqrt(12) is the least there. Then the time that
the tags of a long sweep take, against scipy's interpolation of the same readings. Exit 1 where a share is not
95 % +- 2 % by more than chance (once in a thousand), or the tags take over three times as long.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable

import numpy as np
from scipy.interpolate import CubicSpline

from acquire.angle.encoder import Encoder
from acquire.angle.spell import spells_of
from acquire.angle.tagger import tag_sweep
from acquire.journal.events import Event, Sample, SweepBegun
from tests.acquire.encoder_turns import CELLS, Cell, Row, long_sweep, rows_of
from tests.benchmarks import table

TURNS = 84 * len(CELLS)
READINGS = 200_000
TIMES_SCIPY = 3.0
REPEATS = 7
MS = "{:.1f} ms"


def measure(*, short: bool = False) -> list[table.Row]:
    """Tags of a sweep of 200 000 readings, as many frames beside; processor time. short: of arrays alone."""
    events = long_sweep(READINGS, Cell(0.1, 0.02, 0.0014))
    begun = events[0]
    assert isinstance(begun, SweepBegun)
    spells = spells_of(begun, events)  # as arrays
    frames, readings = spells[0].readings(begun.angle.gauge), spells[0].gauge
    floor = _timed(lambda: CubicSpline(frames.times.astype(float), frames.values)(readings.times))
    tags = _timed(lambda: Encoder(begun.angle, 0.0).tags(spells))
    what = f"tags of {readings.times.size} readings by {frames.times.size} frames, CPU"
    rows = [_row(what, floor, tags, f"≤ {TIMES_SCIPY:g} ×")]
    if not short:
        bare = _timed(lambda: _bare(events))
        rows.append(_row("the same, from the journal's events on", bare, _timed(lambda: tag_sweep(events))))
    return rows


def _row(what: str, floor: table.Figure, ours: table.Figure, aim: str = "") -> table.Row:
    ratio = ours.median / floor.median
    is_met = ratio <= TIMES_SCIPY if aim else None
    return table.Row(what, "scipy's cubic spline", floor, ours, ratio, aim, is_met, is_met)


def _bare(events: list[Event]) -> object:
    """Times and values out of the events, and scipy's interpolation of them."""
    frames = [(e.time_ns, e.value) for e in events if isinstance(e, Sample) and e.gauge == "e"]
    readings = [(e.time_ns, e.value) for e in events if isinstance(e, Sample) and e.gauge == "g"]
    times, values = np.array(frames, dtype=float).T
    return CubicSpline(times, values)(np.array(readings, dtype=float)[:, 0])


def _timed(call: Callable[[], object]) -> table.Figure:
    spent = []
    for _ in range(REPEATS + 1):  # the first warms up
        began_ns = time.process_time_ns()
        call()
        spent.append((time.process_time_ns() - began_ns) / 1e6)
    return table.Figure(tuple(spent[1:]), MS)


def main() -> int:
    """Do it."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.angle_encoder", description=(__doc__ or "").partition("\n\n")[2]
    )
    parser.add_argument("--turns", type=int, default=TURNS, help=f"over a grid of {len(CELLS)} cells")
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    rows = sorted(rows_of(asked.turns, asked.seed), key=lambda row: row.name)
    for row in rows:
        print(_line(row))
    speed = measure()
    print("\n" + table.shown(speed))
    missed = [row.name for row in rows if not row.is_honest] + [r.what for r in speed if r.is_met is False]
    print("\n" + ("\n".join(f"NOT MET: {each}" for each in missed) or "all aims met"))
    return 1 if missed else 0


def _line(row: Row) -> str:
    held = f"held {100 * row.held:5.1f} % (± {100 * row.held_se:.1f})"
    off = f"off by {row.rms_deg:.3f}, moving {row.moving_deg:.3f}, standing {row.standing_deg:.3f}"
    late = f"told by the readings how late: {100 * row.retimed:.0f} %"
    return f"{row.name:44}{row.turns:5} turns, {held}, {off}, u {row.u_deg:.3f}; {late}"


if __name__ == "__main__":
    sys.exit(main())
