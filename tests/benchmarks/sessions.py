"""What a bay's session costs one mosquitto, and a cluster; and how fast each takes what is 18 kB large.

    python -m tests.benchmarks.sessions [N]     at most 300: the client's library waits by select(2)

As a bridge has it: 3.1.1, a session that outlives the connection, TLS, a certificate of its own, and nothing
subscribed to that costs. Clients share the machine with the brokers: rates are floors.
"""

from __future__ import annotations

import asyncio
import socket
import ssl
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from tests.parts.authority import Authority
from tests.parts.broker import FleetBroker
from tests.parts.cluster import Cluster
from tests.parts.fleet import by_stream
from tests.parts.running import Part, resident_bytes

MESSAGE = bytes(range(256)) * 72
SENDERS, EACH = 8, 100
SOME = 20
"""Bays in the list of users: certificates take longest to make."""


class Session:
    """One bay's; its socket is driven by nobody but itself."""

    def __init__(self, authority: Authority, bay: str, name: str, port: int) -> None:
        certificate, key = authority.issue(bay)
        context = ssl.create_default_context(cafile=authority.file)
        context.load_cert_chain(certificate, key)
        self.root = f"ringtrue/1/{bay}"
        self.client = Client(
            CallbackAPIVersion.VERSION2, name, clean_session=False, protocol=MQTTProtocolVersion.MQTTv311
        )
        self.client.tls_set_context(context)
        self.client.on_socket_open = _at_once
        self.client.connect("127.0.0.1", port, 600)
        self.client.loop_start()
        while not self.client.is_connected():
            time.sleep(0.002)

    def send(self, count: int) -> None:
        """So many, one after the other."""
        for number in range(count):
            self.client.publish(f"{self.root}/inspection/i-{number}/result", MESSAGE, 1).wait_for_publish(30)

    def end(self) -> None:
        """Without a goodbye to wait for."""
        self.client.disconnect()
        self.client.loop_stop()


def _at_once(_: Client, __: object, opened: Any) -> None:
    """A small packet waits for nothing."""
    opened.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


def measure(
    name: str, authority: Authority, bays: list[str], ports: list[int], parts: list[Part], count: int
) -> None:
    """Sessions first, then messages."""

    def memory() -> int:
        return sum(resident_bytes(part.pid) for part in parts)

    def spent() -> float:
        return sum(part.processor_s() for part in parts)

    before, cost, began = memory(), spent(), time.monotonic()
    sessions = [
        Session(authority, bays[n % len(bays)], f"ringtrue-{n}", ports[n % len(ports)]) for n in range(count)
    ]
    took = time.monotonic() - began
    grown, connecting = memory() - before, spent() - cost
    cost, began = spent(), time.monotonic()
    with ThreadPoolExecutor(SENDERS) as threads:
        list(threads.map(lambda session: session.send(EACH), sessions[:SENDERS]))
    sending, rate = spent() - cost, SENDERS * EACH / (time.monotonic() - began)
    print(
        f"{name}: {count} sessions in {took:.1f} s, {connecting / count * 1000:.1f} ms of processor and "
        f"{grown / count / 1e3:.0f} kB each; {rate:.0f} messages/s by {SENDERS} senders, "
        f"{sending / SENDERS / EACH * 1000:.2f} ms of processor each",
        flush=True,
    )
    for session in sessions:
        session.end()


async def run(count: int) -> None:
    """Both."""
    with tempfile.TemporaryDirectory(prefix="ringtrue-sessions-") as place:
        folder = Path(place)
        bays = [f"greywacke/bay-{n}" for n in range(1, SOME + 1)]
        authority = Authority(folder / "authority")
        broker = FleetBroker(folder / "broker", authority, bays, by_certificate=True)
        await broker.start()
        await asyncio.to_thread(measure, "mosquitto", authority, bays, [broker.port], [broker], count)
        await broker.stop()
        cluster = Cluster(folder / "cluster", authority, bays)
        try:
            await cluster.start()
            from config.stream import StreamSettings
            from link.stream import StreamReader

            reader = StreamReader(StreamSettings.model_validate(by_stream(cluster, "writer-1")), 50, 50, 0.05)
            reading = asyncio.ensure_future(_read(reader.batches))
            await cluster.until_made()
            nodes = list(cluster.nodes.values())
            ports = [node.ports.mqtt for node in nodes]
            await asyncio.to_thread(measure, "cluster", authority, bays, ports, list(nodes), count)
            reading.cancel()
            await asyncio.wait((reading,))
        finally:
            await cluster.stop()


async def _read(batches: Callable[[], object]) -> None:
    # Of either kind of source.
    async for batch in batches():  # type: ignore[attr-defined]
        await batch.taken()


if __name__ == "__main__":
    asyncio.run(run(int(sys.argv[1]) if sys.argv[1:] else 300))
