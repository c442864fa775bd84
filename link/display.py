"""The connection of displays and hands, by the MQTT library for the event loop as it comes.

It writes each message by itself and acknowledges what arrives before anybody has taken it: enough for whoever
shows or asks. It does not tell that a broker refuses a message published: to that no reply comes.
"""

from __future__ import annotations

import asyncio
import logging
import socket
import ssl
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress

import aiomqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from link import limits
from link.address import BrokerAddress, Will
from link.connection import Connection, Received
from link.entering import let_in
from link.errors import LinkError
from link.tasks import end

# Seconds for the thread in which the library connects to come to its end: it cannot be stopped.
THREAD_S = 1.0
# Seconds for a goodbye to leave where nobody will answer it.
GOODBYE_S = 0.05
# Small packets would wait for Nagle's algorithm: stalls of 40 ms.
_NODELAY = ((socket.IPPROTO_TCP, socket.TCP_NODELAY, 1),)
# What the library would warn of is told as an error.
_QUIET = logging.getLogger(__name__)
_QUIET.setLevel(logging.CRITICAL)


class DisplayConnection(Connection):
    """One connection while it lasts."""

    def __init__(
        self, address: BrokerAddress, protocol: int, context: ssl.SSLContext | None, will: Will | None
    ) -> None:
        super().__init__(asyncio.get_running_loop().create_future())
        self._protocol = protocol
        arrived = self._on_message

        class Through(asyncio.Queue[aiomqtt.Message]):
            """The library's queue, which holds nothing: its iterator tells the end, and that alone."""

            def put_nowait(self, item: aiomqtt.Message) -> None:
                arrived(item)

        self._client = aiomqtt.Client(
            address.host,
            address.port,
            username=address.username,
            password=address.password,
            will=aiomqtt.Will(will.topic, will.payload, qos=1, retain=will.retain) if will else None,
            protocol=aiomqtt.ProtocolVersion(protocol),
            keepalive=limits.KEEPALIVE_S,
            timeout=limits.TIMEOUT_S,
            tls_context=context,
            socket_options=_NODELAY,
            queue_type=Through,
            logger=_QUIET,
        )
        self._entering: asyncio.Future[object]
        self._lasting: asyncio.Future[None] | None = None

    async def open(self) -> ReasonCode | None:
        """What the broker says to being asked in; None where it does not answer. OSError where nobody is
        there."""
        self._entering = asyncio.ensure_future(self._client.__aenter__())
        try:
            await asyncio.shield(self._entering)
        except aiomqtt.MqttError as error:
            reason = getattr(error, "rc", None)
            if isinstance(reason, ReasonCode) or _is_silence(error):
                return reason
            raise OSError(str(error)) from None
        self._lasting = asyncio.ensure_future(self._last())
        return ReasonCode(PacketTypes.CONNACK)

    async def publish(self, topic: str, payload: bytes, *, qos: int = 0, retain: bool = False) -> None:
        """Publish; at QoS 1 returns when the broker has acknowledged. Raises LinkError."""
        try:
            await self._client.publish(topic, payload, qos, retain)
        except aiomqtt.MqttError as error:
            raise LinkError(f"could not publish {topic}: {_why(error)}") from None

    async def subscribe(self, topic: str, *, qos: int = 1) -> None:
        """Subscribe; returns when the broker has acknowledged. Raises LinkError, also if refused."""
        try:
            if self._protocol == 5:
                options = SubscribeOptions(qos=qos, retainAsPublished=True)
                codes = await self._client.subscribe(topic, options=options)
            else:
                codes = await self._client.subscribe(topic, qos)
        except aiomqtt.MqttError as error:
            raise LinkError(f"could not subscribe to {topic}: {_why(error)}") from None
        if any((code if isinstance(code, int) else code.value) >= 128 for code in codes):
            raise LinkError(f"the broker does not allow to read {topic}")

    async def close(self) -> None:
        """Say goodbye: no will is published."""
        if self._lasting is not None:
            await end(self._lasting)
        await self._leave(limits.TIMEOUT_S)

    async def give_up(self) -> None:
        """Of one that never was: leave nothing behind."""
        await asyncio.wait([self._entering], timeout=THREAD_S)
        await self._leave(GOODBYE_S)
        await end(self._entering)

    async def _leave(self, most_s: float) -> None:
        self._client.timeout = most_s
        with suppress(aiomqtt.MqttError):
            await self._client.__aexit__(None, None, None)

    async def _last(self) -> None:
        """Until the connection ends; then say why."""
        try:
            async for _ in self._client.messages:
                raise AssertionError("a message came by a queue that holds none")
        except aiomqtt.MqttError as error:
            why = getattr(error.__cause__, "rc", error.__cause__)
            self._end("" if why is None else str(why))

    def _end(self, why: str) -> None:
        if not self._lost.done():
            self._lost.set_result(why)

    def _on_message(self, message: aiomqtt.Message) -> None:
        if self._incoming.qsize() >= limits.INCOMING_MAX and message.qos > 0:
            # It is acknowledged and would be lost in silence; after a new start what is retained comes again.
            self._end("more came than was looked at")
            return
        received = Received(str(message.topic), bytes(message.payload), bool(message.retain))
        self._arrived(received, message.mid, message.qos)

    def _taken(self, mid: int, qos: int) -> None:
        """The library has acknowledged it already."""


def _is_silence(error: aiomqtt.MqttError) -> bool:
    """Whether the library waited and nothing came: of this it has no error of its own, but these words."""
    return str(error) == "Operation timed out"


def _why(error: aiomqtt.MqttError) -> str:
    return "the broker does not acknowledge it" if _is_silence(error) else str(error)


@asynccontextmanager
async def connect(address: BrokerAddress, *, will: Will | None = None) -> AsyncIterator[DisplayConnection]:
    """A connection, said goodbye to at the end. Raises LinkError where there is none to be had."""
    async with let_in(
        address, lambda protocol, context: DisplayConnection(address, protocol, context, will)
    ) as connection:
        yield connection
