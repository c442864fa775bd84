"""`python -m tests.benchmarks [--short] [NAME …]`: one table; exit 1 where an aim is not met."""

from __future__ import annotations

import argparse
import importlib
import os
import sys
import time

NAMES = {
    "throughput": "readings through the daemon, against a bare loop and against reading alone",
    "latency": "a line written until it is heard, and the daemon's processor time, at 8 gauges × 50/s",
    "drivers": "frames of each framing a second, against split and float; 32 gauges × 100/s",
    "memory": "a simulated day of eight hours",
    "grading": "a finished sweep, against a bare least-squares fit; 200 files",
    "startup": "the daemon's start to its first reading",
    "writer": "results of many bays into PostgreSQL by one and two writers, against a raw batched insert",
    "pages": "a line written until a browser shows it on the wall; a day of messages in memory",
}
SHORT = ("grading", "throughput", "latency", "startup", "pages", "drivers")
"""Those that can be told in a few minutes, by ratios that a busy machine hardly moves."""


def main() -> int:
    """Do it."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks",
        description="Measures how fast the house is against the bare minimum of the same work.",
        epilog="\n".join(f"  {name:12}{what}" for name, what in NAMES.items()),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("name", nargs="*", help="which, of those below (default: all)")
    parser.add_argument(
        "--short", action="store_true", help=f"{', '.join(SHORT)}: exit 1 only where a ratio has got worse"
    )
    parser.add_argument("--loaded", action="store_true", help="latency alone, with all cores busy meanwhile")
    asked = parser.parse_args()
    if asked.loaded and (asked.short or asked.name not in ([], ["latency"])):
        parser.error("--loaded is of latency, and not --short")
    names = asked.name or (["latency"] if asked.loaded else list(SHORT) if asked.short else list(NAMES))
    may = SHORT if asked.short else tuple(NAMES)
    if unknown := sorted(set(names) - set(may)):
        parser.error(f"there is no {unknown[0]}; there are {', '.join(may)}")

    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does
    from tests.benchmarks.table import shown

    rows = []
    for name in names:
        print(f"{name} …", file=sys.stderr, end="", flush=True)
        began_s = time.monotonic()
        measure = importlib.import_module(f"tests.benchmarks.{name}").measure
        rows += measure(short=True) if asked.short else measure(loaded=True) if asked.loaded else measure()
        print(f" {time.monotonic() - began_s:.0f} s", file=sys.stderr, flush=True)
    load = os.getloadavg()[0]
    print(f"{os.cpu_count()} cores, load {load:.1f}; medians (± half the range of the repeats)\n")
    print(shown(rows))
    if asked.short:
        return 1 if any(row.holds is False for row in rows) else 0
    return 1 if any(row.is_met is False for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main())
