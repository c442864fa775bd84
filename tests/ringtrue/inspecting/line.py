"""A broker in memory with any number of clients, all in the test's own loop: no wait but for each other."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from link.address import BrokerAddress, Will
from link.connection import Connection, Received
from link.errors import LinkError

ADDRESS = BrokerAddress("broker", 1883)


class Line:
    """on_command: told of each command's topic and payload."""

    def __init__(self) -> None:
        self.is_up = True
        self.retained: dict[str, bytes] = {}
        self.on_command: Callable[[str, bytes], None] = lambda topic, payload: None
        self.published: list[tuple[str, bytes]] = []
        self.asked: list[tuple[str, bytes]] = []
        self._clients: list[MemoryClient] = []

    def publish(self, topic: str, payload: bytes, *, retain: bool = False) -> None:
        """For everybody who has asked for it."""
        self.published.append((topic, payload))
        if retain:
            self.retained[topic] = payload
        for client in self._clients:
            client.hear(topic, payload)

    def cut(self) -> None:
        """Nobody is connected any more, and nobody gets in until `is_up` again."""
        self.is_up = False
        for client in self._clients:
            client.break_off()
        self._clients.clear()

    @asynccontextmanager
    async def connect(self, address: BrokerAddress, *, will: Will | None = None) -> AsyncIterator[Connection]:
        if not self.is_up:
            raise LinkError(f"{address.url} cannot be reached: nobody listens")
        client = MemoryClient(self)
        self._clients.append(client)
        try:
            yield client
        finally:
            await client.close()

    def left(self, client: MemoryClient) -> None:
        if client in self._clients:
            self._clients.remove(client)


class MemoryClient(Connection):
    """One client's connection while it lasts."""

    def __init__(self, line: Line) -> None:
        self._line = line
        super().__init__(asyncio.get_running_loop().create_future())
        self._filters: list[list[str]] = []

    def hear(self, topic: str, payload: bytes) -> None:
        if any(_matches(wanted, topic.split("/")) for wanted in self._filters):
            self._arrived(Received(topic, payload, False), 0, 1)

    def break_off(self) -> None:
        if not self._lost.done():
            self._lost.set_result("")

    async def publish(self, topic: str, payload: bytes, *, qos: int = 0, retain: bool = False) -> None:
        await asyncio.sleep(0)
        if self._lost.done():
            raise LinkError("the connection to the broker ended")
        self._line.asked.append((topic, payload))
        self._line.on_command(topic, payload)

    async def subscribe(self, topic: str, *, qos: int = 1) -> None:
        await asyncio.sleep(0)
        wanted = topic.split("/")
        self._filters.append(wanted)
        for kept, payload in self._line.retained.items():
            if _matches(wanted, kept.split("/")):
                self._arrived(Received(kept, payload, True), 0, 1)

    def _taken(self, mid: int, qos: int) -> None:
        """There is nobody to tell."""

    async def close(self) -> None:
        self._line.left(self)
        self.break_off()


def _matches(wanted: list[str], levels: list[str]) -> bool:
    return len(wanted) == len(levels) and all(
        w in ("+", level) for w, level in zip(wanted, levels, strict=True)
    )
