"""`python -m tests.benchmarks.virtual [--inspections N] [--seed S]`: seeded inspections with faults.

Each seed is a bay on virtual time with an inspection in which gauges are unplugged, lines are noisy, the
broker goes away or refuses, the disk is full, the wall clock jumps, commands come twice or in another order,
somebody meddles, and the daemon is killed before or after a commit. What must hold in the end is in
`tests/virtual/invariants.py`; each seed that fails is printed, and a seed gives the same run every time.
10 000 take about 25 minutes of one core. Exit 1 where anything is wrong.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

# Where a file costs no disk; the journal's every commit goes through SQLite either way.
MEMORY = Path("/dev/shm")


def main() -> int:
    """Do it."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.virtual", description=(__doc__ or "").partition("\n\n")[2]
    )
    parser.add_argument("--inspections", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=0, help="the first; the others follow it")
    parser.add_argument("--trace", action="store_true", help="print each seed's hashes")
    asked = parser.parse_args()
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does
    from tests.virtual.running import Files, Outcome, run

    began_s = time.process_time()
    verdicts: Counter[str] = Counter()
    said: Counter[str] = Counter()
    outcomes: list[Outcome] = []
    wrong = 0
    with tempfile.TemporaryDirectory(dir=MEMORY if MEMORY.is_dir() else None) as name:
        folder = Path(name)
        files = Files(folder)
        for seed in range(asked.seed, asked.seed + asked.inspections):
            outcome = run(seed, files, folder)
            outcomes.append(outcome)
            verdicts[outcome.verdict] += 1
            said.update(outcome.said)
            wrong += bool(outcome.wrong)
            if outcome.wrong:
                print(f"seed {seed}, {outcome.verdict}, {outcome.kills} kills:", flush=True)
            for each in outcome.wrong:
                print(f"  {each}", flush=True)
            if asked.trace:
                print(f"{seed} {outcome.trace} {outcome.journal}")
    spent_s = time.process_time() - began_s
    print(
        f"{len(outcomes)} inspections from seed {asked.seed}, {1000 * spent_s / len(outcomes):.0f} ms each; "
        f"{sum(one.graded for one in outcomes)} graded in full; {sum(one.kills for one in outcomes)} kills, "
        f"{sum(one.commits for one in outcomes)} commits, {sum(one.readings for one in outcomes)} readings, "
        f"{sum(one.commands for one in outcomes)} commands, {sum(one.revisions for one in outcomes)} results"
    )
    print("verdicts: " + ", ".join(f"{count} {verdict}" for verdict, count in verdicts.most_common()))
    print("\n".join(f"{count:8} {text}" for text, count in said.most_common()), file=sys.stderr)
    print(f"NOT MET: {wrong} seeds" if wrong else "nothing wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
