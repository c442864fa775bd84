"""A broker in memory: retained messages, one daemon's connection, people who listen, and what goes wrong.

At QoS 1 a message is taken and then acknowledged; where the connection ends between the two, its sender
cannot know. A command goes to the daemon that listens at that moment, or to nobody.
"""

from __future__ import annotations

import asyncio
import hashlib
import random
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass

from contract.topics import Topics
from link.address import BrokerAddress, Will
from link.bursts import BurstConnection
from link.connection import Received
from link.errors import LinkError, PublishRefusedError
from link.tasks import end

# Seconds that a message takes, at most, and that a connection takes.
HOP_S, CONNECT_S = 0.01, 0.05


@dataclass(frozen=True, slots=True)
class Published:
    """One message at QoS 1 as the broker took it. session: of which connection of the daemon."""

    time_ns: int
    topic: str
    payload: bytes
    retain: bool
    session: int


class MemoryBroker:
    """lossy: chance that the connection ends between a message taken and its acknowledgement. place: the
    folder of this run, which is left out of the digest of all that was said."""

    def __init__(
        self, rng: random.Random, now_ns: Callable[[], int], topics: Topics, place: str = ""
    ) -> None:
        self.rng, self._now_ns, self._topics = rng, now_ns, topics
        self._place = place.encode()
        self.up = True
        self.lossy = 0.0
        self.refused: set[str] = set()
        self.retained: dict[str, bytes] = {}
        self.taken: list[Published] = []
        self.sessions = 0
        self.digest = hashlib.sha256()
        self.on_message: Callable[[str, bytes], None] = lambda topic, payload: None
        self._connection: MemoryConnection | None = None

    def take(self, topic: str, payload: bytes, *, qos: int, retain: bool) -> None:
        """A message of the daemon, for all."""
        said = payload.replace(self._place, b"") if self._place else payload
        self.digest.update(b"%d %s %d %b\n" % (self._now_ns(), topic.encode(), retain, said))
        if retain:
            self.retained[topic] = payload
        if qos:
            self.taken.append(Published(self._now_ns(), topic, payload, retain, self.sessions))
            self.on_message(topic, payload)

    def refuses(self, topic: str) -> bool:
        """Whether the daemon's user may not publish this now."""
        return any(level in topic for level in self.refused)

    def send(self, name: str, payload: bytes, *, retain: bool = False) -> bool:
        """A command to the daemon; False where nobody listened."""
        connection = self._connection
        if connection is None or not connection.subscribed:
            return False
        connection.inbox.put_nowait(Received(self._topics.command(name), payload, retain))
        return True

    def say(self, topic: str, payload: bytes) -> None:
        """A retained message of somebody else; empty: what was retained is cleared."""
        if payload:
            self.retained[topic] = payload
        else:
            self.retained.pop(topic, None)
        connection = self._connection
        if connection is not None and topic in connection.echoes:
            connection.inbox.put_nowait(Received(topic, payload, False))

    def go_away(self) -> None:
        """The broker is gone, with every connection."""
        self.up = False
        self.cut()

    def come_back(self) -> None:
        """It can be reached again; it has kept what was retained."""
        self.up = True

    def cut(self) -> None:
        """The daemon's connection breaks, and its will is published."""
        if self._connection is not None:
            self._connection.break_off()

    @asynccontextmanager
    async def connect(
        self, address: BrokerAddress, *, will: Will | None = None
    ) -> AsyncIterator[BurstConnection]:
        """For the daemon."""
        await asyncio.sleep(self.rng.uniform(0.0, CONNECT_S))
        if not self.up:
            raise LinkError(f"{address.url} cannot be reached: nobody listens")
        self.sessions += 1
        self._connection = connection = MemoryConnection(self, will)
        try:
            yield connection
        finally:
            await connection.close()

    def left(self, connection: MemoryConnection) -> None:
        """A connection has ended."""
        if self._connection is connection:
            self._connection = None


class MemoryConnection(BurstConnection):
    """The daemon's connection while it lasts."""

    def __init__(self, broker: MemoryBroker, will: Will | None) -> None:
        self._broker, self._will = broker, will
        self._lost: asyncio.Future[str] = asyncio.get_running_loop().create_future()
        self.inbox: asyncio.Queue[Received] = asyncio.Queue()
        self.subscribed = False
        self.echoes: set[str] = set()
        self._arrives_s = 0.0
        self.dropped = 0

    def break_off(self) -> None:
        """It ends without a goodbye."""
        if not self._lost.done():
            self._lost.set_result("")
            self._broker.left(self)
            if self._will is not None:
                self._broker.take(self._will.topic, self._will.payload, qos=1, retain=True)

    async def publish(self, topic: str, payload: bytes, *, qos: int = 0, retain: bool = False) -> None:
        if qos == 0:
            await self.publish_burst([(topic, payload)], retain=retain)
            return
        broker, loop = self._broker, asyncio.get_running_loop()
        # What is sent first arrives first: one connection is one stream of bytes.
        self._arrives_s = max(loop.time() + broker.rng.uniform(0.0, HOP_S), self._arrives_s + 1e-6)
        await asyncio.sleep(self._arrives_s - loop.time())
        self._look()
        if broker.refuses(topic):
            raise PublishRefusedError(topic, "not authorized")
        broker.take(topic, payload, qos=qos, retain=retain)
        if topic in self.echoes:
            self.inbox.put_nowait(Received(topic, payload, retain))
        if broker.rng.random() < broker.lossy:
            self.break_off()
        await self._hop()

    @property
    def is_free(self) -> bool:
        return not self._lost.done()

    async def publish_burst(self, messages: Sequence[tuple[str, bytes]], *, retain: bool = False) -> None:
        self._look()
        self.write_burst(messages, retain=retain)
        await asyncio.sleep(0)

    def write_burst(self, messages: Sequence[tuple[str, bytes]], *, retain: bool = False) -> None:
        for topic, payload in messages:
            if not self._broker.refuses(topic):  # at QoS 0 nobody hears of it
                self._broker.take(topic, payload, qos=0, retain=retain)

    async def subscribe(self, topic: str, *, qos: int = 1) -> None:
        await self._hop()
        self.subscribed = True
        kept = self._broker.retained.get(topic)
        if kept is not None:
            self.inbox.put_nowait(Received(topic, kept, True))
        self.echoes.add(topic)

    async def next_message(self) -> Received:
        waiting = asyncio.ensure_future(self.inbox.get())
        try:
            await asyncio.wait((waiting, self._lost), return_when=asyncio.FIRST_COMPLETED)
            if waiting.done():
                return waiting.result()
            self._look()
            raise AssertionError("neither a message nor the end")
        finally:
            await end(waiting)

    async def wait_lost(self) -> LinkError:
        await asyncio.wait((self._lost,))
        return LinkError("the connection to the broker ended")

    async def close(self) -> None:
        self._broker.left(self)
        if not self._lost.done():
            self._lost.set_result("")

    async def _hop(self) -> None:
        """On the way; LinkError where it ends meanwhile."""
        await asyncio.sleep(self._broker.rng.uniform(0.0, HOP_S))
        self._look()

    def _look(self) -> None:
        if self._lost.done():
            raise LinkError("the connection to the broker ended")
