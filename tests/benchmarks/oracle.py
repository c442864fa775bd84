"""`python -m tests.benchmarks.oracle [--sweeps N] [--only NAME …]`: bad days and the best possible.

For each regime of the study of bad days that falls short of an aim: what ringtrue makes of its sweeps, and
what an oracle does that is told much more (`tests/grading/oracle/`). Shares in per cent; wrongly kept and
wrongly replaced of those whose truth is on that side. With --fair the oracle is not told that a level moved:
how many sweeps in one it takes to be moved is scanned, and what that costs on sound ones stands beside.
With --sharp: how far ringtrue, and who is told how sweeps come about, are off on a display of 0.01 mm; with
--untold who, from mark to mark, is told neither the number of orders nor how unevenly the crank is barred.
"""

from __future__ import annotations

import argparse
import sys

from tests.grading.oracle.fair import REGIMES
from tests.grading.oracle.fair import table as fair_table
from tests.grading.oracle.study import BEST, table
from tests.grading.oracle.untold import table as untold_table
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
    parser.add_argument("--untold", action="store_true", help="of those from mark to mark, told less")
    asked = parser.parse_args()
    fair = tuple(name for name in REGIMES if name in asked.only)
    if asked.untold:
        lines = untold_table(asked.sweeps)
    elif asked.sharp:
        lines = sharp_table(asked.sweeps)
    else:
        lines = fair_table(fair, asked.sweeps) if asked.fair else table(asked.only, asked.sweeps)
    for line in lines:
        print(line, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
