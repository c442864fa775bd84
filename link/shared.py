"""Messages of many bays from one broker, shared among several readers; each kept there until it is taken.

    bay ──▶ broker ──▶ $share/GROUP/… ──▶ this reader      each message to one of the group
                  └──▶ $share/GROUP/… ──▶ another

The broker keeps a session for each reader (MQTT 5), so that what it was handed and had not acknowledged, and
what comes for it while it is away, is there when it is back. How much it hands out before the first is
acknowledged is the connection's receive maximum.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Sequence
from dataclasses import dataclass
from functools import partial

import structlog

from link.address import BrokerAddress, Session
from link.bursts import BurstConnection, connect
from link.connection import stay_connected
from link.errors import LinkError
from link.tasks import end

SHORT_S, SHORT_MOST = 10.0, 3
"""A connection that was up, and ended again so soon, so often in a row: as where two clients use one name and
each throws the other out. Not every broker says so (MQTT 5, reason code 0x8e)."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """shared: filters of what goes to one of the group. kept: filters of what is retained, of which each
    reader wants the state when it connects. enough, gather_s: messages in a batch that waits for no more, and
    for how long they are gathered; batch_max: of those that came already."""

    group: str
    shared: Sequence[str]
    kept: Sequence[str]
    enough: int
    batch_max: int
    gather_s: float


@dataclass(frozen=True, slots=True)
class SharedBatch:
    """Some messages, each its topic and payload; `taken` acknowledges them."""

    messages: Sequence[tuple[str, bytes]]
    acknowledge: Sequence[Callable[[], None]]

    async def taken(self) -> None:
        """The broker may forget them. Where the connection is gone, it keeps them for the next."""
        for one in self.acknowledge:
            one()


class SharedReader:
    """Reads as one of a group, over lost connections. session: this reader's at the broker."""

    def __init__(self, address: BrokerAddress, session: Session, wanted: Wanted) -> None:
        self._address, self._session, self._wanted = address, session, wanted
        self._came: asyncio.Queue[tuple[str, bytes, Callable[[], None]]] = asyncio.Queue()
        self._connection: BurstConnection | None = None
        self._said, self._up_since, self._short = "", 0.0, 0
        self._log = structlog.get_logger().bind(broker=address.url, client=session.client)

    async def batches(self) -> AsyncIterator[SharedBatch]:
        """For ever, until it is closed."""
        reading = asyncio.ensure_future(
            stay_connected(
                lambda: self._address,
                self._read,
                connect=partial(connect, session=self._session),
                on_down=self._down,
            )
        )
        try:
            while True:
                yield await self._next(reading)
        finally:
            await end(reading)

    async def ask(self, topic: str, payload: bytes) -> bool:
        """Publish at QoS 1; False where that cannot be done now."""
        if self._connection is None:
            return False
        try:
            await self._connection.publish(topic, payload, qos=1)
        except LinkError as error:
            self._log.warning("a bay could not be asked", topic=topic, reason=str(error))
            return False
        return True

    async def _next(self, reading: asyncio.Future[None]) -> SharedBatch:
        """Wait for a message, then a little for more."""
        loop = asyncio.get_running_loop()
        first = asyncio.ensure_future(self._came.get())
        try:
            await asyncio.wait((first, reading), return_when=asyncio.FIRST_COMPLETED)
            if reading.done():
                reading.result()
            came = [await first]
        finally:
            await end(first)
        until = loop.time() + self._wanted.gather_s
        while len(came) < self._wanted.enough and (left_s := until - loop.time()) > 0:
            try:
                async with asyncio.timeout(left_s):
                    came.append(await self._came.get())
            except TimeoutError:
                break
        while len(came) < self._wanted.batch_max and not self._came.empty():
            came.append(self._came.get_nowait())
        return SharedBatch(
            [(topic, payload) for topic, payload, _ in came], [acknowledge for _, _, acknowledge in came]
        )

    async def _read(self, connection: BurstConnection) -> None:
        if not connection.is_5:
            raise LinkError(f"{self._address.url} speaks MQTT 3.1.1 alone: a shared reader needs MQTT 5")
        while not self._came.empty():  # of the connection before: it comes again
            self._came.get_nowait()
        for topic in self._wanted.shared:
            await connection.subscribe(f"$share/{self._wanted.group}/{topic}")
        for topic in self._wanted.kept:  # of a shared subscription nothing retained is sent (MQTT 5, 4.8.2)
            await connection.subscribe(topic, qos=0)
            connection.unsubscribe(topic)
        self._connection, self._up_since = connection, asyncio.get_running_loop().time()
        if not self._short:
            self._log.info("connected")
        try:
            while True:
                message, acknowledge = await connection.next_held()
                self._came.put_nowait((message.topic, message.payload, acknowledge))
        finally:
            self._connection = None

    def _down(self, error: LinkError) -> None:
        """Once for each reason, until it is up for good again."""
        said, lasted_s = str(error), asyncio.get_running_loop().time() - self._up_since
        if self._up_since:
            self._short = self._short + 1 if lasted_s < SHORT_S else 0
            self._said = self._said if self._short > 1 else ""
            self._up_since = 0.0
        if self._short == SHORT_MOST:
            self._log.error(
                "thrown out again and again: does another one use this client's name? Give each its own",
                reason=said,
            )
        if said != self._said:
            self._log.warning("not connected, tried again: messages wait at the broker", reason=said)
        self._said = said
