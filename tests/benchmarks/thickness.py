"""`python -m tests.benchmarks.thickness [--casings N]`: does the interval of the thickness hold the truth?

Prints the whole grid of `tests/grading/thickness_study.py`: per cell how often the 95 % interval held the
true spread, how often the casing was found within a limit 2 um below the truth, or over one 2 um above it,
the median expanded uncertainty in um, and what share of the interval would do for 93.5 of 100; which casing
needs most of it; then what one bad reading does near the limit. Exit 1 where an aim is missed by more than
chance explains.
"""

from __future__ import annotations

import argparse
import sys

from scipy.stats import binom

from tests.grading.thickness_study import (
    CASINGS,
    GAUGES,
    LEAST,
    NEAR_UM,
    Cell,
    Line,
    cells,
    decided,
    line,
    near,
    table,
    worst,
)

WRONG_MOST, SLIPPED_MOST = 0.05, 0.01
SURPRISE = 1e-4
"""How unlikely a count must be, were the aim just met, before it counts as missed: there are many cells."""
SEED = 20260302


def unmet(lines: list[Line]) -> list[str]:
    """The aims that these lines miss, one sentence each."""
    missed = []
    for x in lines:
        if binom.cdf(round(x.covered * x.count), x.count, LEAST) < SURPRISE:
            missed.append(f"{x.cell}: coverage {x.covered:.3f}, at least {LEAST} is asked")
        for name, share in (("within", x.within), ("over", x.over)):
            if name == "over" and x.cell.spread_mm == 0.0:
                continue  # no limit is 0.002 mm
            if binom.sf(round(share * x.count) - 1, x.count, WRONG_MOST) < SURPRISE:
                missed.append(f"{x.cell}: wrongly {name} {share:.3f}, at most {WRONG_MOST} is asked")
    return missed


def main() -> int:
    """Do it."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.thickness", description=(__doc__ or "").partition("\n\n")[2]
    )
    parser.add_argument("--casings", type=int, default=400, help="per cell (%(default)s)")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--each", type=int, nargs="+", default=[1, 2, 3], help="readings of every place")
    asked = parser.parse_args()
    lines = []
    for cell in (cell for cell in cells() if cell.each in asked.each):
        lines.append(line(cell, asked.casings, asked.seed))
        if sys.stderr.isatty():
            print(f"\r{cell}", end="", file=sys.stderr, flush=True)
    print(table(lines))
    for name, most in worst(lines):
        print(f"{name}: {most.cell} needs {most.needed:.2f} of its interval")
    missed = unmet(lines)
    for gauge in GAUGES:
        for casing in CASINGS[1:]:
            for um in NEAR_UM:
                cell = near(Cell(casing, 0.0, 2.0, gauge, 1), um)
                shares = decided(cell, asked.casings, asked.seed, slip=True)
                wrong = shares.get("within", 0.0)
                print(f"one bad reading, {cell}: {shares}")
                if binom.sf(round(wrong * asked.casings) - 1, asked.casings, SLIPPED_MOST) < SURPRISE:
                    missed.append(f"one bad reading, {cell}: wrongly within {wrong:.3f}")
    print("\n".join(f"NOT MET: {each}" for each in missed) or "all aims met")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
