"""Two loads: all bays on one broker, and each bay's own broker bridged into a cluster."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine
from contextlib import AsyncExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from link.broker import BuiltInBroker
from tests.link.outside import Cable
from tests.parts.authority import Authority
from tests.parts.broker import FleetBroker, bridged_broker
from tests.parts.cluster import Cluster
from tests.parts.fleet import (
    FINISH_S,
    Bays,
    Issued,
    Writer,
    by_mqtt,
    by_stream,
    delays_s,
    far,
    plans,
    until_on_record,
)
from tests.parts.postgres import Postgres
from tests.parts.running import processor_s, resident_bytes

BAYS_A_PROCESS = 50
IDLE_S = 2.0


@dataclass(frozen=True)
class Told:
    """What a load came to. carrier_s: processor time of the broker, or of all nodes, beyond
    what they take when nothing comes, which is idle (a share of one core). own_s: of the bays' own
    brokers together. delays_s: of each result, from its signature until it is on record, sorted."""

    results: int
    carrier_s: float
    idle: float
    own_s: float
    carrier_bytes: int
    took_s: float
    delays_s: list[float]

    def delay_s(self, share: float) -> float:
        """What so many of them stay below."""
        return self.delays_s[min(len(self.delays_s) - 1, int(share * len(self.delays_s)))]


def _names(bays: int) -> list[str]:
    return [f"greywacke/bay-{n}" for n in range(1, bays + 1)]


async def on_one_broker(
    folder: Path, postgres: Postgres, *, bays: int, results: int, over_s: float, goes_wrong: bool
) -> Told:
    """All bays on one mosquitto, two writers that share. goes_wrong: one is killed with what it holds, and
    the database is stopped as by a power cut, each started again later."""
    async with AsyncExitStack() as stack:
        names = _names(bays)
        broker = FleetBroker(folder / "broker", Authority(folder / "authority"), names)
        await broker.start()
        stack.push_async_callback(broker.stop)
        url = postgres.make()
        reading = broker.address("writer")
        writers = [Writer(name, folder, by_mqtt(reading, name), url) for name in ("writer-1", "writer-2")]
        await writers[0].prepare()
        for writer in writers:
            stack.push_async_callback(writer.stop)
            await writer.start()
        for writer in writers:
            await writer.until_connected()
        addresses = {name: broker.address(name) for name in names}
        groups = plans(
            folder / "bays", addresses, max(1, bays // BAYS_A_PROCESS), results=results, over_s=over_s
        )
        await _started(groups, stack)
        idle = await _idle(broker.processor_s)
        began, before = asyncio.get_running_loop().time(), broker.processor_s()
        wrong = _writer_and_database(writers, postgres, over_s) if goes_wrong else None
        issued = await _issued(groups, wrong, over_s)
        await until_on_record(url, issued)
        took = asyncio.get_running_loop().time() - began
        cost, memory = broker.processor_s() - before, resident_bytes(broker.pid)
        return _told(url, issued, took, cost - idle * took, idle, 0.0, memory)


async def bridged(
    folder: Path, postgres: Postgres, *, bays: int, results: int, over_s: float, goes_wrong: bool
) -> Told:
    """Each bay with its own broker, bridged into three nodes; two writers that share. goes_wrong: one bay's
    bridge is cut for all of it, a node is killed and stays away for a while, a writer is killed, the database
    is stopped as by a power cut."""
    async with AsyncExitStack() as stack:
        names = _names(bays)
        cluster = Cluster(folder / "cluster", Authority(folder / "authority"), names)
        stack.push_async_callback(cluster.stop)
        await cluster.start()
        url = postgres.make()
        names_of = ("writer-1", "writer-2")
        writers = [Writer(name, folder, by_stream(cluster, name), url) for name in names_of]
        await writers[0].prepare()
        for writer in writers:
            stack.push_async_callback(writer.stop)
            await writer.start()
            await writer.until_connected()
        await cluster.until_made("writer")
        cables: list[Cable] = []
        if goes_wrong:  # the first bay's way to all three nodes
            cables = [Cable(far(address)) for address in cluster.addresses]
            for cable in cables:
                await stack.enter_async_context(cable)
        brokers: dict[str, BuiltInBroker] = {}
        for n, name in enumerate(names):
            by_cable = [f"mqtts://127.0.0.1:{cable.address.port}" for cable in cables]
            broker = bridged_broker(
                folder / f"own-{n}",
                name,
                cluster.authority,
                by_cable if cables and n == 0 else cluster.addresses,
            )
            await broker.start()
            stack.push_async_callback(broker.stop)
            brokers[name] = broker
        addresses = {name: broker.address() for name, broker in brokers.items()}
        groups = plans(
            folder / "bays", addresses, max(1, bays // BAYS_A_PROCESS), results=results, over_s=over_s
        )
        await _started(groups, stack)
        pids = [broker.pid or 0 for broker in brokers.values()]
        own_before = sum(map(processor_s, pids))
        idle = await _idle(lambda: sum(node.processor_s() for node in cluster.nodes.values()))
        cost = {name: -node.processor_s() for name, node in cluster.nodes.items()}
        began = asyncio.get_running_loop().time()
        wrong = _everything(cluster, cables, writers, postgres, over_s, cost) if goes_wrong else None
        issued = await _issued(groups, wrong, over_s)
        await until_on_record(url, issued)
        took = asyncio.get_running_loop().time() - began
        for name, node in cluster.nodes.items():
            cost[name] += node.processor_s()
        own = sum(map(processor_s, pids)) - own_before
        memory = sum(resident_bytes(node.pid) for node in cluster.nodes.values())
        return _told(url, issued, took, sum(cost.values()) - idle * took, idle, own, memory)


async def _started(groups: list[Bays], stack: AsyncExitStack) -> None:
    for group in groups:
        stack.push_async_callback(group.stop)
    await asyncio.gather(*(group.start() for group in groups))


async def _issued(groups: list[Bays], wrong: Coroutine[Any, Any, None] | None, over_s: float) -> Issued:
    for group in groups:
        group.go()
    going = asyncio.ensure_future(wrong) if wrong is not None else None
    issued: Issued = {}
    for group in groups:
        issued |= await group.sent(over_s + FINISH_S)
    if going is not None:
        await going
    return issued


async def _writer_and_database(writers: list[Writer], postgres: Postgres, over_s: float) -> None:
    await asyncio.sleep(over_s / 4)
    await writers[0].kill()
    await asyncio.sleep(over_s / 4)
    await asyncio.to_thread(postgres.stop)
    await asyncio.sleep(over_s / 4)
    await asyncio.to_thread(postgres.start)
    await writers[0].start()


async def _everything(
    cluster: Cluster,
    cables: list[Cable],
    writers: list[Writer],
    postgres: Postgres,
    over_s: float,
    cost: dict[str, float],
) -> None:
    for cable in cables:
        await cable.pull()
    await asyncio.sleep(over_s / 4)
    victim = cluster.nodes["b"]
    cost["b"] += victim.processor_s()
    await victim.kill()
    await asyncio.sleep(over_s / 4)
    await writers[0].kill()
    await asyncio.sleep(over_s / 4)
    await asyncio.to_thread(postgres.stop)
    await asyncio.sleep(over_s / 4)
    await asyncio.to_thread(postgres.start)
    await writers[0].start()
    await victim.start()
    await cluster.until_well()
    for cable in cables:
        await cable.plug_in()


async def _idle(processor_s: Callable[[], float]) -> float:
    """What is taken while nothing comes, as a share of one core."""
    before = processor_s()
    await asyncio.sleep(IDLE_S)
    return (processor_s() - before) / IDLE_S


def _told(
    url: str, issued: Issued, took: float, carrier: float, idle: float, own: float, memory: int
) -> Told:
    number = sum(map(len, issued.values()))
    return Told(number, carrier, idle, own, memory, took, delays_s(url))
