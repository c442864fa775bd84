"""`python -m tests.benchmarks [NAME …]`: measure, print one table; exit 1 where an aim is not met."""

from __future__ import annotations

import argparse
import importlib
import os
import sys
import time

NAMES = {
    "throughput": "readings through the daemon, against a bare loop and against reading alone",
    "latency": "a line written until it is heard, and the daemon's processor time, at 8 gauges × 50/s",
    "memory": "a simulated day of eight hours",
    "grading": "a finished sweep, against a bare least-squares fit; 200 files",
    "startup": "the daemon's start to its first reading",
}


def main() -> int:
    """Do it."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks",
        description="Measures how fast the house is against the bare minimum of the same work.",
        epilog="\n".join(f"  {name:12}{what}" for name, what in NAMES.items()),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("name", nargs="*", help="which, of those below (default: all)")
    names = parser.parse_args().name or list(NAMES)
    if unknown := sorted(set(names) - set(NAMES)):
        parser.error(f"there is no {unknown[0]}; there are {', '.join(NAMES)}")

    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does
    from tests.benchmarks.table import shown

    rows = []
    for name in names:
        print(f"{name} …", file=sys.stderr, end="", flush=True)
        began_s = time.monotonic()
        rows += importlib.import_module(f"tests.benchmarks.{name}").measure()
        print(f" {time.monotonic() - began_s:.0f} s", file=sys.stderr, flush=True)
    load = os.getloadavg()[0]
    print(f"{os.cpu_count()} cores, load {load:.1f}; medians (± half the range of the repeats)\n")
    print(shown(rows))
    return 1 if any(row.is_met is False for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main())
