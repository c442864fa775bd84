"""`python -m tests.benchmarks.oracle [--sweeps N] [--only NAME …]`: bad days beside the best made of them.

For each regime of the study of bad days that falls short of an aim: what ringtrue makes of its sweeps, and
what an oracle does that is told much more (`tests/grading/oracle/`). Shares in per cent; wrongly kept and
wrongly replaced of those whose truth is on that side.
"""

from __future__ import annotations

import argparse
import sys

from tests.grading.oracle.study import BEST, table


def main() -> int:
    """Do it."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.oracle", description=(__doc__ or "").partition("\n\n")[2]
    )
    parser.add_argument("--sweeps", type=int, default=160, help="of each regime")
    parser.add_argument("--only", nargs="+", default=list(BEST), metavar="NAME", choices=BEST)
    asked = parser.parse_args()
    for line in table(asked.only, asked.sweeps):
        print(line, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
