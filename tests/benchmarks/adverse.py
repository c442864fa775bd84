"""`python -m tests.benchmarks.adverse [--sweeps N] [--only NAME …]`: what bad days do to the outcome.

Grades seeded sweeps of `tests/grading/adverse/`, each with something amiss and a true TIR 2 to 20 um above or
below the limit, by the example method, and prints a line per regime, lengths in um: how often each outcome
came, how often the stated interval held the truth where there is one, the median expanded uncertainty, the
error that 95 % stay below, and how many were wrongly kept or wrongly replaced, of those whose truth is on
that side. Then the aims that are missed by more than chance (three standard deviations of the binomial).
"""

from __future__ import annotations

import argparse
import sys
import time

from tests.grading.adverse.catalogue import chosen
from tests.grading.adverse.study import SEED, Graded, run
from tests.grading.adverse.summary import summary, table


def main() -> int:
    """Do it."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.adverse", description=(__doc__ or "").partition("\n\n")[2]
    )
    parser.add_argument("--sweeps", type=int, default=2_000, help="of all regimes together")
    parser.add_argument("--heavy", action="store_true", help="the full study: 20 000 sweeps")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--only", nargs="+", default=[], metavar="NAME", help="groups, or parts of names")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--list", action="store_true", help="each sweep that went wrong, by its number")
    asked = parser.parse_args()
    try:
        regimes = chosen(asked.only)
    except ValueError as error:
        parser.error(str(error))
    sweeps = 20_000 if asked.heavy else asked.sweeps
    began_s = time.monotonic()
    graded: list[Graded] = []
    for each in run(regimes, sweeps, asked.seed, asked.processes):
        graded.append(each)
        if sys.stderr.isatty() and len(graded) % 20 == 0:
            print(f"\r{len(graded)} of {sweeps}", end="", file=sys.stderr, flush=True)
    rows, missed = summary(graded)
    print(table(rows))
    if asked.list:
        print(*(_line(g) for g in graded if g.wrongly_kept or g.wrongly_replaced), sep="\n")
    print(f"\nseed {asked.seed}, {len(graded)} sweeps in {time.monotonic() - began_s:.0f} s")
    print("\n".join(f"NOT MET: {each}" for each in missed) or "all aims met")
    return 1 if missed else 0


def _line(g: Graded) -> str:
    wrong = "kept" if g.wrongly_kept else "replaced"
    return f"wrongly {wrong}: {g.regime} {g.number}: true {g.truth_mm:.3f} mm; {g.reason}"


if __name__ == "__main__":
    sys.exit(main())
