"""A fleet under load, with what goes wrong in it; and what carrying its results costs.

    python -m tests.benchmarks.fleet [--bays N] [--results N] [--over S] [--bridged N] [--plain N]

Processor times are of the broker (or all three nodes) alone, per 1 000 results of some 18 kB. To one broker a
bay publishes each twice (the result, and the latest one), a record of its chain and a checkpoint; bridged,
the result crosses once.
"""

from __future__ import annotations

import argparse
import asyncio
import tempfile
from pathlib import Path

from tests.parts.loads import Told, bridged, on_one_broker
from tests.parts.postgres import Postgres, server


def _show(name: str, told: Told) -> None:
    each = 1000 / told.results
    lines = (
        f"{name}: {told.results} results, each on record once; {told.took_s:.0f} s",
        f"broker or nodes: {told.carrier_s * each:.2f} s of processor per 1 000 results, "
        f"and {told.idle:.1%} of a core when nothing comes; {told.carrier_bytes / 1e6:.0f} MB",
        f"bays' own brokers: {told.own_s * each:.2f} s per 1 000",
        f"signed to on record: half below {told.delay_s(0.5):.2f} s, 99 % below {told.delay_s(0.99):.2f} s, "
        f"at most {told.delays_s[-1]:.1f} s",
    )
    print("\n    ".join(lines), flush=True)


async def _measure(asked: argparse.Namespace, postgres: Postgres) -> None:
    with tempfile.TemporaryDirectory(prefix="ringtrue-fleet-") as place:
        folder = Path(place)

        def fresh(name: str) -> Path:
            (folder / name).mkdir()
            return folder / name

        bays, results, over_s = asked.bays, asked.results, asked.over
        if bays:
            told = await on_one_broker(
                fresh("a"), postgres, bays=bays, results=results, over_s=over_s, goes_wrong=True
            )
            _show(f"{bays} bays on one mosquitto, writer killed, database restarted", told)
        if bays := asked.bridged:
            told = await bridged(
                fresh("b"), postgres, bays=bays, results=results, over_s=over_s / 2, goes_wrong=True
            )
            _show(
                f"{bays} bays bridged, node and writer killed, database restarted, one cut off for all of it",
                told,
            )
        if bays := asked.plain:
            one, three = [
                await load(
                    fresh(load.__name__),
                    postgres,
                    bays=bays,
                    results=results * 12,
                    over_s=over_s / 4,
                    goes_wrong=False,
                )
                for load in (on_one_broker, bridged)
            ]
            _show(f"{bays} bays on one mosquitto, nothing wrong", one)
            _show(f"{bays} bays bridged, nothing wrong", three)
            ratio = (three.carrier_s / three.results) / (one.carrier_s / one.results)
            print(f"a result costs three nodes {ratio:.1f} times what it costs one mosquitto")


def main() -> None:
    """Do it."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.fleet", description=__doc__)
    for name, default, what in (
        ("bays", 200, "on one mosquitto"),
        ("results", 8, "of each bay"),
        ("over", 60, "within so many seconds"),
        ("bridged", 12, "bays with brokers of their own"),
        ("plain", 12, "bays of each kind, with nothing going wrong"),
    ):
        parser.add_argument(f"--{name}", type=int, default=default, help=f"{what} (default: %(default)s)")
    asked = parser.parse_args()
    with server() as postgres:
        asyncio.run(_measure(asked, postgres))


if __name__ == "__main__":
    main()
