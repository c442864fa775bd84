"""`python -m tests.benchmarks.oracle [--sweeps N] [--only NAME …]`: bad days and the best possible.

For each regime of the study of bad days that falls short of an aim: what ringtrue makes of its sweeps, and
what an oracle does that is told much more (`tests/grading/oracle/`). Shares in per cent; wrongly kept and
wrongly replaced of those whose truth is on that side. With --fair the oracle is not told that a level moved:
how many sweeps in one it takes to be moved is scanned, and what that costs on sound ones stands beside.
With --sharp: how far ringtrue, and who is told how sweeps come about, are off on a display of 0.01 mm.
"""

from __future__ import annotations

import argparse
import sys

from tests.grading.oracle.fair import REGIMES
from tests.grading.oracle.fair import table as fair_table
from tests.grading.oracle.study import BEST, table
from tests.grading.oracle.walked import table as sharp_table


def main() -> int:
    """Do it."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.oracle", description=(__doc__ or "").partition("\n\n")[2]
    )
    parser.add_argument("--sweeps", type=int, default=160, help="of each regime")
    parser.add_argument("--only", nargs="+", default=list(BEST), metavar="NAME", choices=BEST)
    parser.add_argument("--fair", action="store_true", help="by how often a level moves")
    parser.add_argument("--sharp", action="store_true", help="of sound sweeps on a coarse display")
    asked = parser.parse_args()
    fair = tuple(name for name in REGIMES if name in asked.only)
    lines = fair_table(fair, asked.sweeps) if asked.fair else table(asked.only, asked.sweeps)
    for line in sharp_table(asked.sweeps) if asked.sharp else lines:
        print(line, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
