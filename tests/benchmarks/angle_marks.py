"""`python -m tests.benchmarks.angle_marks [--turns N]`: what marks tell of the crank's angle, and how fast.

Tags seeded turns of `tests/acquire/turns.py` and holds them against where the crank was, by spacing of the
marks, step of the display, and TIR or readings a second: root mean square error in degrees, and the share of
readings whose true angle lies within ±2 u; the same of a quarter as many turns of rough surfaces. Of each
fourth turn, what marks and time alone would give (`by time`), and what would be known if one could see
exactly when the crank moves (`moving seen`): no better than that is possible without knowing the surface.
Then the tagging of a sweep of 200 000 readings against scipy's monotone interpolation of as many. Exit 1
where a cell is less honest than 90 % (`--heavy`, 2 000 turns: 93 to 97 %), or the tagging takes more than
three times as long. The seeds are none of those by which the tags were calibrated.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from scipy.interpolate import PchipInterpolator

from acquire.angle.between import by_time
from acquire.angle.covered import MARK_REACH_NS
from acquire.angle.presses import presses_of, tags_by_presses
from acquire.angle.spell import Spell
from acquire.angle.tags import Tags
from tests.acquire.tagging import Cell, Score, cells, score, spell_of
from tests.acquire.turns import MARK_U_DEG, Turn, turn

HONEST, SLOWER_MAX = 0.90, 3.0
Row = tuple[str, float, str]
ROUGH_EVERY = 4


def moving_seen(drawn: Turn, spell: Spell) -> Tags:
    """Marks, and an even pace whenever the crank truly moves."""
    known = presses_of(spell)
    moves = np.abs(np.gradient(drawn.true_deg)) > 1e-9
    way = np.cumsum(moves.astype(float))
    at = np.interp(known.times, drawn.times_ns, way) + np.arange(known.times.size) * 1e-6
    inside = (drawn.times_ns >= known.times[0]) & (drawn.times_ns <= known.times[-1])
    return Tags(inside, np.interp(way, at, known.angle_deg), np.ones(way.size))


def study(turns: int, spacings: tuple[int, ...], seed: int) -> dict[Row, Score]:
    """So many turns of each cell."""
    found: dict[Row, Score] = defaultdict(Score)
    for number, cell in enumerate(cells(spacings)):
        for n in range(turns):
            rng = np.random.default_rng([seed, number, n])
            drawn = turn(rng, cell.marks_deg, cell.resolution_mm, cell.per_s, cell.tir_mm)
            for name, one in _scores(cell, drawn, beside=n % ROUGH_EVERY == 0).items():
                found[name, cell.resolution_mm, f"TIR {cell.tir_mm:g} mm"].join(one)
                found[name, cell.resolution_mm, f"{cell.per_s:g} a second"].join(one)
            if n % ROUGH_EVERY == 0:
                rng = np.random.default_rng([seed, number, n, 1])
                drawn = turn(rng, cell.marks_deg, cell.resolution_mm, cell.per_s, cell.tir_mm, rough=True)
                (one,) = _scores(cell, drawn, beside=False).values()
                found[
                    f"marks {cell.spacing_deg}°, rough", cell.resolution_mm, f"TIR {cell.tir_mm:g} mm"
                ].join(one)
    return found


def _scores(cell: Cell, drawn: Turn, *, beside: bool) -> dict[str, Score]:
    step_nm, name = drawn.resolution_nm, f"marks {cell.spacing_deg}°"
    found = {name: score(drawn, lambda spell: tags_by_presses(MARK_U_DEG, 0.0, step_nm, spell))}
    if not beside:
        return found
    return found | {
        f"{name}, by time": score(
            drawn, lambda spell: by_time(spell.gauge, presses_of(spell), MARK_REACH_NS, MARK_U_DEG, 0.0)
        ),
        f"{name}, moving seen": score(drawn, lambda spell: moving_seen(drawn, spell)),
    }


def slower_than_scipy(readings: int = 200_000) -> float:
    """Processor time of a sweep's final tags by marks, as a multiple of an interpolation of as many readings:
    the middle of five."""
    drawn = turn(np.random.default_rng(5), (0.0, 120.0, 240.0), 0.001, 50, 0.2)
    n = drawn.times_ns.size
    at = np.sort(np.random.default_rng(1).integers(0, n, readings))
    long = replace(
        drawn,
        times_ns=drawn.times_ns[at] + np.arange(readings),
        value_nm=drawn.value_nm[at],
        true_deg=drawn.true_deg[at],
    )
    spell = spell_of(long)

    def interpolated() -> None:
        times, values = long.times_ns.astype(np.float64), long.value_nm.astype(np.float64)
        PchipInterpolator(times, values)(times + 0.5)

    def tagged() -> None:
        tags_by_presses(MARK_U_DEG, 0.0, drawn.resolution_nm, spell)

    took = [[_seconds(each) for _ in range(5)] for each in (tagged, interpolated)]
    return float(np.median(took[0]) / np.median(took[1]))


def _seconds(what: Callable[[], None]) -> float:
    began = time.process_time()
    what()
    return time.process_time() - began


def main() -> int:
    """Do it."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.angle_marks", description=(__doc__ or "").partition("\n\n")[2]
    )
    parser.add_argument("--turns", type=int, default=8, help="of each cell")
    parser.add_argument("--heavy", action="store_true", help="the full study: 2 000 turns by marks")
    parser.add_argument("--seed", type=int, default=3)
    asked = parser.parse_args()
    found = study(42 if asked.heavy else asked.turns, (120, 30), asked.seed)
    missed = False
    least, most = (0.93, 0.97) if asked.heavy else (HONEST, 1.0)
    for (name, step, part), one in sorted(found.items()):
        told = "" if name.endswith("seen") else f"{100 * one.covered:6.1f} %"
        print(f"{name:24} {step:6g} mm  {part:12}  {one.rms_deg:6.2f}°  {told}")
        missed |= name in ("marks 120°", "marks 30°") and not least <= one.covered <= most
    slower = slower_than_scipy()
    print(f"200 000 readings: {slower:.2f} times an interpolation")
    return 1 if missed or slower > SLOWER_MAX else 0


if __name__ == "__main__":
    sys.exit(main())
