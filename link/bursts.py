"""The daemon's connection: many messages in one write, and each that it takes acknowledged only then."""

from __future__ import annotations

import asyncio
import ssl
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from typing import Any

from paho.mqtt.client import MQTTMessage, error_string
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from link import limits
from link.address import BrokerAddress, Session, Will
from link.connection import Connection, Received
from link.entering import let_in
from link.errors import LinkError, PublishRefusedError
from link.looped import LoopedClient
from link.packets import publish_packet

# Seconds between two looks whether a full socket has taken what waits.
FULL_PAUSE_S = 0.005


class BurstConnection(Connection):
    """One connection while it lasts."""

    def __init__(
        self,
        address: BrokerAddress,
        protocol: int,
        context: ssl.SSLContext | None,
        will: Will | None,
        session: Session | None = None,
    ) -> None:
        self._client = LoopedClient(
            address,
            protocol,
            context,
            will,
            keepalive_s=limits.KEEPALIVE_S,
            on_message=self._on_message,
            on_answer=self._on_answer,
            session=session,
        )
        super().__init__(self._client.lost)
        self._library = self._client.library
        self._protocol = protocol
        self._answers: dict[int, asyncio.Future[list[ReasonCode]]] = {}

    async def open(self) -> ReasonCode | None:
        """What the broker says to being asked in; None where it does not answer. OSError where nobody is
        there."""
        await self._client.open()
        either: set[asyncio.Future[Any]] = {self._client.let_in, self._lost}
        await asyncio.wait(either, timeout=limits.TIMEOUT_S, return_when=asyncio.FIRST_COMPLETED)
        return self._client.let_in.result() if self._client.let_in.done() else None

    async def publish(self, topic: str, payload: bytes, *, qos: int = 0, retain: bool = False) -> None:
        """Publish; at QoS 1 returns when the broker has acknowledged.

        Raises LinkError, or PublishRefusedError.
        """
        if qos == 0:
            await self.publish_burst([(topic, payload)], retain=retain)
            return
        sent = self._library.publish(topic, payload, qos, retain)
        if sent.rc:
            raise LinkError(f"could not publish {topic}: {error_string(sent.rc)}")
        (reason,) = await self._answered(sent.mid, f"could not publish {topic}")
        if reason.is_failure:
            raise PublishRefusedError(topic, str(reason))

    @property
    def is_5(self) -> bool:
        """Whether it is spoken in MQTT 5."""
        return self._protocol == 5

    @property
    def is_free(self) -> bool:
        """Whether what is written now leaves now."""
        return not (self._client.is_full or self._lost.done())

    def write_burst(self, messages: Sequence[tuple[str, bytes]], *, retain: bool = False) -> None:
        """Publish several (topic, payload) at QoS 0 without waiting: what the socket does not take leaves
        later; what comes after the end of the connection, never."""
        if not self._lost.done():
            protocol, packets = self._protocol, []
            for topic, payload in messages:
                packets.append(publish_packet(topic, payload, protocol, retain=retain))
            self._client.write(b"".join(packets))

    async def publish_burst(self, messages: Sequence[tuple[str, bytes]], *, retain: bool = False) -> None:
        """Publish several (topic, payload) at QoS 0; returns when all have left. Raises LinkError.

        Written at once, and waited for only where the socket takes no more: a fraction of the cost of
        one by one.
        """
        client = self._client
        self.write_burst(messages, retain=retain)
        waited_s = 0.0
        while client.is_full and waited_s < limits.TIMEOUT_S and not self._lost.done():
            await asyncio.sleep(FULL_PAUSE_S)
            waited_s += FULL_PAUSE_S
        if self._lost.done() or client.is_full:
            raise LinkError(f"could not publish {messages[0][0]}: the broker takes no more")

    async def subscribe(self, topic: str, *, qos: int = 1) -> None:
        """Subscribe; returns when the broker has acknowledged. Raises LinkError, also if refused."""
        if self._protocol == 5:
            options = SubscribeOptions(qos=qos, retainAsPublished=True)
            failed, mid = self._library.subscribe(topic, options=options)
        else:
            failed, mid = self._library.subscribe(topic, qos)
        if failed or mid is None:
            raise LinkError(f"could not subscribe to {topic}: {error_string(failed)}")
        reasons = await self._answered(mid, f"could not subscribe to {topic}")
        if any(reason.is_failure for reason in reasons):
            raise LinkError(f"the broker does not allow to read {topic}")

    async def next_held(self) -> tuple[Received, Callable[[], None]]:
        """As `next_message`, but the broker keeps it for us until what comes with it is called."""
        message, mid, qos = await self._next()
        return message, lambda: self._taken(mid, qos)

    def unsubscribe(self, topic: str) -> None:
        """Hear no more of it; what the broker says to that is not waited for."""
        self._library.unsubscribe(topic)

    async def close(self) -> None:
        """Say goodbye: no will is published."""
        await self._client.close(limits.TIMEOUT_S)

    async def give_up(self) -> None:
        """Of one that never was: leave nothing behind."""
        await self._client.close(0)

    async def _answered(self, mid: int, what: str) -> list[ReasonCode]:
        """What the broker says of the message or subscription of this number. Raises LinkError."""
        answer: asyncio.Future[list[ReasonCode]] = self._lost.get_loop().create_future()
        self._answers[mid] = answer
        either: set[asyncio.Future[Any]] = {answer, self._lost}
        try:
            await asyncio.wait(either, timeout=limits.TIMEOUT_S, return_when=asyncio.FIRST_COMPLETED)
        finally:
            del self._answers[mid]
        if not answer.done():
            raise LinkError(f"{what}: the broker does not acknowledge it")
        return answer.result()

    def _on_answer(self, mid: int, reasons: list[ReasonCode]) -> None:
        answer = self._answers.get(mid)
        if answer is not None and not answer.done():
            answer.set_result(reasons)

    def _on_message(self, message: MQTTMessage) -> None:
        received = Received(message.topic, bytes(message.payload), message.retain)
        self._arrived(received, message.mid, message.qos)

    def _taken(self, mid: int, qos: int) -> None:
        """Only now is it acknowledged: what nobody takes waits with the broker."""
        self._library.ack(mid, qos)


@asynccontextmanager
async def connect(
    address: BrokerAddress, *, will: Will | None = None, session: Session | None = None
) -> AsyncIterator[BurstConnection]:
    """A connection, said goodbye to at the end. Raises LinkError where there is none to be had."""
    async with let_in(
        address, lambda protocol, context: BurstConnection(address, protocol, context, will, session)
    ) as connection:
        yield connection
