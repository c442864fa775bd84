"""A workshop's line to the cluster is cut: what its bays keep meanwhile, and how it comes once it is back.

    python -m tests.benchmarks.outage [--cut S] [--bays N] [--every S] [--busy S]

Bays by their own code, each with its own mosquitto bridged into three nodes, all over one line; two writers.
One bay is busy: its results come many times as fast, as if it had been cut off for that many times as long.
Says that every result is on record once, byte for byte, and what the brokers held.
"""

from __future__ import annotations

import argparse
import asyncio
import tempfile
from pathlib import Path

from tests.parts.outage import Outage, cut_off
from tests.parts.postgres import server


def _show(told: Outage) -> None:
    lines = (
        f"{told.bays} bays, cut off for {told.cut_s:.0f} s: {told.results} results, each on record once",
        f"signed while there was no way: {told.kept}, of them {told.busy} by the busy bay",
        f"way back: the first on record after {told.back_s:.1f} s, the last after {told.caught_up_s:.1f} s",
        f"on record before an earlier one of their bay, as two writers share them: {told.overtaken}",
        f"bays' own brokers together: {told.brokers_s:.1f} s of processor",
        "  cut for s  broker MB  its file MB  busy MB  its file MB",
    )
    print("\n".join(lines))
    for look in told.looks:
        sizes = (look.memory, look.disk, look.busy_memory, look.busy_disk)
        kept, its, busy, busys = (size / 1e6 for size in sizes)
        print(f"{look.at_s:>11.0f}{kept:>11.1f}{its:>13.1f}{busy:>9.1f}{busys:>13.1f}")


def main() -> None:
    """Do it."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.outage", description=__doc__)
    for name, default, what in (
        ("cut", 3600, "seconds without the line"),
        ("bays", 20, "how many"),
        ("every", 90, "seconds from result to result of each bay, in the mean"),
        ("busy", 1, "the same of the busy bay"),
    ):
        parser.add_argument(f"--{name}", type=int, default=default, help=f"{what} (default: %(default)s)")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="ringtrue-outage-") as folder, server(durable=True) as postgres:
        told = asyncio.run(
            cut_off(
                Path(folder), postgres, bays=asked.bays, every_s=asked.every, busy_every_s=asked.busy,
                cut_s=asked.cut,
            )
        )  # fmt: skip
        _show(told)


if __name__ == "__main__":
    main()
