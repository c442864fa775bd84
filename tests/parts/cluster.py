"""A cluster of three, as three machines would run it: config/fleet/node.conf and node-users.conf."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import ssl
import sys
from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx
import nats
from nats.js import JetStreamContext

from link.kept import STREAM
from tests.link.outside import WAIT_S
from tests.parts.authority import Authority
from tests.parts.running import Part, quiet_port
from tests.parts.shipped import lay

NAMES = ("a", "b", "c")
RELOADED = "Reloaded server configuration"
LOOK_S = 0.05
"""Between two looks whether it is well: it tells nobody."""


@dataclass(frozen=True, slots=True)
class Ports:
    clients: int
    mqtt: int
    routes: int
    http: int


class Node(Part):
    """One of them."""

    def __init__(
        self, name: str, folder: Path, authority: Authority, ports: dict[str, Ports], bays: Iterable[str]
    ) -> None:
        folder.mkdir()
        mine = self.ports = ports[name]
        certificate, key = authority.issue(f"node-{name}")
        routes = {f"node-{other}.quarry.example:6222": f"127.0.0.1:{ports[other].routes}" for other in NAMES}
        self.config = lay(
            folder,
            "node.conf",
            {
                **routes,
                "server_name: node-a": f"server_name: node-{name}",
                "host: 0.0.0.0": "host: 127.0.0.1",
                "/etc/ringtrue-node/ca.crt": str(authority.file),
                "/etc/ringtrue-node/node.crt": str(certificate),
                "/etc/ringtrue-node/node.key": str(key),
                "/var/lib/ringtrue-node": f"{folder}/kept",
                "port: 4222": f"port: {mine.clients}",
                "port: 8883": f"port: {mine.mqtt}",
                "port: 6222": f"port: {mine.routes}",
                "127.0.0.1:8222": f"127.0.0.1:{mine.http}",
                "lame_duck_duration: 30s": "lame_duck_duration: 30s\nlame_duck_grace_period: 1s",
            },
        )
        users = lay(folder, "node-users.conf", {})
        line = next(line for line in users.read_text().splitlines() if "greywacke/bay-2" in line)
        more = [
            line.replace("greywacke/bay-2", bay)
            .replace("greywacke.bay-2", bay.replace("/", "."))
            .replace("greywacke.method", f"{bay.partition('/')[0]}.method")
            for bay in bays
            if bay not in ("greywacke/bay-1", "greywacke/bay-2")
        ]
        users.write_text(users.read_text().replace(line, "\n".join([line, *more])))
        program = Path(sys.executable).with_name("nats-server")
        super().__init__(f"node-{name}", folder / "log", str(program), "-c", str(self.config))

    async def reload(self) -> None:
        """Read its files anew; it has."""
        before = self.log.read_text().count(RELOADED)
        os.kill(self.pid, signal.SIGHUP)
        async with asyncio.timeout(WAIT_S):
            while self.log.read_text().count(RELOADED) == before:
                self.look()
                await asyncio.sleep(LOOK_S)

    async def is_well(self, client: httpx.AsyncClient) -> bool:
        """Whether it takes part, and every stream and consumer that it holds is up to date."""
        self.look()
        try:
            answer = await client.get(f"http://127.0.0.1:{self.ports.http}/healthz")
        except httpx.HTTPError:
            return False
        return bool(answer.status_code == 200 and json.loads(answer.text)["status"] == "ok")


class Cluster:
    """Three nodes, which know `writer`, `display` and the bays that are named."""

    def __init__(self, folder: Path, authority: Authority, bays: Iterable[str]) -> None:
        folder.mkdir(exist_ok=True)
        self.authority = authority
        ports = {name: Ports(*(quiet_port() for _ in range(4))) for name in NAMES}
        bays = list(bays)
        self.nodes = {name: Node(name, folder / name, authority, ports, bays) for name in NAMES}

    async def start(self) -> None:
        """Start all three; they are well."""
        for node in self.nodes.values():
            await node.start()
        await self.until_well()

    async def until_well(self, *names: str) -> None:
        """Wait until these nodes are, else all."""
        async with asyncio.timeout(WAIT_S), httpx.AsyncClient() as client:
            for name in names or NAMES:
                while not await self.nodes[name].is_well(client):  # noqa: ASYNC110 another process tells nobody
                    await asyncio.sleep(LOOK_S)

    @asynccontextmanager
    async def asking(self) -> AsyncIterator[JetStreamContext]:
        """Its own interface, as the writer's user."""
        certificate, key = self.authority.issue("writer")
        context = ssl.create_default_context(cafile=self.authority.file)
        context.load_cert_chain(certificate, key)
        client = await nats.connect(self.servers, tls=context)
        try:
            yield client.jetstream()
        finally:
            await client.close()

    async def until_made(self, consumer: str = "writer") -> None:
        """Wait until a writer has made its consumer: what came before would not be kept."""
        async with asyncio.timeout(WAIT_S), self.asking() as stream:
            while True:
                try:
                    found = await stream.consumer_info(STREAM, consumer, timeout=1)
                    if found.cluster and all(node.current for node in found.cluster.replicas or ()):
                        return
                except nats.errors.Error:
                    pass
                await asyncio.sleep(LOOK_S)

    async def stop(self) -> None:
        """End them, all at once: none has anybody to hand on to."""
        await asyncio.gather(*(node.kill() for node in self.nodes.values()))

    def said(self) -> str:
        """What all nodes have said."""
        return "".join(node.log.read_text(errors="replace") for node in self.nodes.values())

    @property
    def servers(self) -> list[str]:
        """Where writers come."""
        return [f"tls://127.0.0.1:{node.ports.clients}" for node in self.nodes.values()]

    @property
    def addresses(self) -> list[str]:
        """Where bays' bridges come."""
        return [f"mqtts://127.0.0.1:{node.ports.mqtt}" for node in self.nodes.values()]


@asynccontextmanager
async def cluster(folder: Path, bays: Iterable[str]) -> AsyncIterator[Cluster]:
    """One while the block runs."""
    running = Cluster(folder / "cluster", Authority(folder / "authority"), bays)
    try:
        await running.start()
        yield running
    finally:
        await running.stop()
