"""A workshop's line is cut for long: what its bays' own brokers keep meanwhile, and how it all comes then."""

from __future__ import annotations

import asyncio
import itertools
from contextlib import AsyncExitStack
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import psycopg

from link.broker import BuiltInBroker
from tests.link.outside import Cable
from tests.parts.authority import Authority
from tests.parts.broker import bridged_broker
from tests.parts.cluster import Cluster
from tests.parts.fleet import FINISH_S, Writer, by_stream, far, plans, until_on_record
from tests.parts.postgres import Postgres
from tests.parts.running import processor_s, resident_bytes

LEAD_S = 0.02
"""Share of the cut for which results come before it and after it."""


@dataclass(frozen=True)
class Look:
    """One look at the brokers while there is no way. at_s: since the cut. memory, disk: bytes of a
    broker with few results and of the busy bay's."""

    at_s: float
    memory: int
    disk: int
    busy_memory: int
    busy_disk: int


@dataclass
class Outage:
    """What it came to. kept: results that were signed while there was no way, of them busy ones; back_s:
    from the line's return until the first of them was on record, caught_up_s: until the last was.
    overtaken: results on record before an earlier one of their bay, of all."""

    bays: int
    cut_s: float
    results: int = 0
    kept: int = 0
    busy: int = 0
    back_s: float = 0.0
    caught_up_s: float = 0.0
    overtaken: int = 0
    brokers_s: float = 0.0
    looks: list[Look] = field(default_factory=list)


async def cut_off(
    folder: Path, postgres: Postgres, *, bays: int, every_s: float, busy_every_s: float, cut_s: float
) -> Outage:
    """Bays with brokers of their own, bridged into three nodes over one line, which is cut.

    Each issues a result every `every_s` seconds in the mean, before the cut, all through it and after it;
    the last of them every `busy_every_s`. Raises where one is not on record once, byte for byte.
    """
    told = Outage(bays, cut_s)
    lead_s = max(2.0, cut_s * LEAD_S)
    over_s = cut_s + 2 * lead_s
    async with AsyncExitStack() as stack:
        names = [f"greywacke/bay-{n}" for n in range(1, bays + 1)]
        cluster = Cluster(folder / "cluster", Authority(folder / "authority"), names)
        stack.push_async_callback(cluster.stop)
        await cluster.start()
        url = postgres.make()
        writers = [Writer(name, folder, by_stream(cluster, name), url) for name in ("writer-1", "writer-2")]
        await writers[0].prepare()
        for writer in writers:
            stack.push_async_callback(writer.stop)
            await writer.start()
        await cluster.until_made()
        line = [Cable(far(address)) for address in cluster.addresses]
        for cable in line:
            await stack.enter_async_context(cable)
        brokers: dict[str, BuiltInBroker] = {}
        for n, name in enumerate(names):
            broker = brokers[name] = bridged_broker(
                folder / f"own-{n}",
                name,
                cluster.authority,
                [f"mqtts://127.0.0.1:{cable.address.port}" for cable in line],
            )
            await broker.start()
            stack.push_async_callback(broker.stop)
        addresses = {name: broker.address() for name, broker in brokers.items()}
        busy = {names[-1]: addresses.pop(names[-1])}
        groups = [
            *plans(folder / "bays", addresses, 1, results=max(1, round(over_s / every_s)), over_s=over_s),
            *plans(folder / "busy", busy, 1, results=max(1, round(over_s / busy_every_s)), over_s=over_s),
        ]
        for group in groups:
            stack.push_async_callback(group.stop)
        await asyncio.gather(*(group.start() for group in groups))
        pids = [broker.pid or 0 for broker in brokers.values()]
        before = sum(map(processor_s, pids))
        for group in groups:
            group.go()
        await asyncio.sleep(lead_s)
        for cable in line:
            await cable.pull()
        cut = datetime.now(UTC)
        await _look_on(told, folder, brokers, cut_s)
        mended = datetime.now(UTC)
        for cable in line:
            await cable.plug_in()
        issued = {
            bay: some for group in groups for bay, some in (await group.sent(lead_s + FINISH_S)).items()
        }
        await until_on_record(url, issued)
        told.brokers_s = sum(map(processor_s, pids)) - before
        told.results = sum(map(len, issued.values()))
        _reckon(told, url, cut, mended, names[-1])
    return told


async def _look_on(told: Outage, folder: Path, brokers: dict[str, BuiltInBroker], cut_s: float) -> None:
    """Until the cut has lasted so long."""
    loop = asyncio.get_running_loop()
    began, step_s = loop.time(), cut_s / 12
    *few, busy = brokers.values()
    disks = [folder / f"own-{n}" / "mosquitto.db" for n in range(len(brokers))]
    for n in range(13):
        await asyncio.sleep(max(0.0, began + n * step_s - loop.time()))
        told.looks.append(
            Look(
                loop.time() - began,
                max(resident_bytes(broker.pid or 0) for broker in few),
                max(map(_size, disks[:-1])),
                resident_bytes(busy.pid or 0),
                _size(disks[-1]),
            )
        )


def _size(file: Path) -> int:
    return file.stat().st_size if file.exists() else 0


def _reckon(told: Outage, url: str, cut: datetime, mended: datetime, busy: str) -> None:
    with psycopg.connect(url.replace("+psycopg", "")) as database:
        rows = database.execute(
            "SELECT site || '/' || bay, time::timestamptz, stored FROM fleet_revisions"
            " JOIN (SELECT site, bay, inspection, revision, place, time FROM fleet_chain) AS places"
            " USING (site, bay, inspection, revision) ORDER BY site, bay, place"
        ).fetchall()
    late = [(bay, stored) for bay, signed, stored in rows if cut < signed and stored > mended > signed]
    told.kept, told.busy = len(late), sum(bay == busy for bay, _ in late)
    told.back_s, told.caught_up_s = (
        (pick(stored for _, stored in late) - mended).total_seconds() for pick in (min, max)
    )
    told.overtaken = sum(
        _overtaken([stored for bay, _, stored in rows if bay == one]) for one in {row[0] for row in rows}
    )


def _overtaken(stored: list[datetime]) -> int:
    """How many came on record before one that is before them in their chain."""
    latest = itertools.accumulate(stored, max)
    return sum(moment < before for moment, before in zip(stored[1:], latest, strict=False))
