"""How the house speaks MQTT: a connection, and a loop that keeps one up.

The client library does not reconnect: that is mended here. A connection speaks MQTT 5 where the broker
does, else 3.1.1: only 5 shows whether a message came from someone who asked for it to be retained.
"""

from __future__ import annotations

import asyncio
import random
import ssl
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

from paho.mqtt.client import MQTTMessage, error_string
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from link.address import BrokerAddress, Will
from link.errors import CredentialRefusedError, LinkError, PublishRefusedError
from link.looped import LoopedClient
from link.packets import publish_packet
from link.pauses import Pauses
from link.probe import wrong_scheme
from link.tasks import end

T = TypeVar("T")

# Seconds between two signs of life to the broker. A frozen broker is noticed in at most twice this.
KEEPALIVE_S = 10
# Longest wait for the broker to acknowledge anything; a working one takes milliseconds.
TIMEOUT_S = 5.0
# Seconds without an answer after which it is looked whether the port wants TLS, or wants none.
DOUBT_S = 1.5
# Seconds between two looks whether a full socket has taken what waits.
FULL_PAUSE_S = 0.005
# First and longest pause between two attempts to connect: someone may stand and wait for it.
RETRY_FIRST_S, RETRY_MAX_S = 0.1, 3.0
# Messages received at QoS 0 and not yet looked at. More is a flood: the newest are dropped, and counted.
INCOMING_MAX = 10_000
# MQTT 5 and 3.1.1 codes for a user name or password that is not accepted.
_REFUSED = (4, 5, 134, 135)
_OTHER_PROTOCOL = (1, 132)


class _OtherProtocolError(LinkError):
    """The broker does not know this version of MQTT: some say so, some do not answer."""


@dataclass(frozen=True, slots=True)
class Received:
    """One message. retained: its sender asked for it to be kept (as far as the protocol shows)."""

    topic: str
    payload: bytes
    retained: bool


class Connection:
    """One connection while it lasts."""

    def __init__(
        self, address: BrokerAddress, protocol: int, context: ssl.SSLContext | None, will: Will | None
    ) -> None:
        self._client = LoopedClient(
            address,
            protocol,
            context,
            will,
            keepalive_s=KEEPALIVE_S,
            on_message=self._on_message,
            on_answer=self._on_answer,
        )
        self._library = self._client.library
        self._protocol = protocol
        self._incoming: asyncio.Queue[tuple[Received, int, int]] = asyncio.Queue()
        self.dropped = 0
        """Messages received at QoS 0 that found no room."""
        self._answers: dict[int, asyncio.Future[list[ReasonCode]]] = {}

    async def open(self) -> ReasonCode | None:
        """What the broker says to being asked in; None where it does not answer. OSError where nobody is
        there."""
        await self._client.open()
        await asyncio.wait([self._client.let_in], timeout=TIMEOUT_S)
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
    def is_free(self) -> bool:
        """Whether what is written now leaves now."""
        return not (self._client.is_full or self._client.lost.done())

    def write_burst(self, messages: Sequence[tuple[str, bytes]], *, retain: bool = False) -> None:
        """Publish several (topic, payload) at QoS 0 without waiting: what the socket does not take leaves
        later; what comes after the end of the connection, never."""
        if not self._client.lost.done():
            protocol = self._protocol
            packets = [publish_packet(topic, payload, protocol, retain=retain) for topic, payload in messages]
            self._client.write(b"".join(packets))

    async def publish_burst(self, messages: Sequence[tuple[str, bytes]], *, retain: bool = False) -> None:
        """Publish several (topic, payload) at QoS 0; returns when all have left. Raises LinkError.

        Written at once, and waited for only where the socket takes no more: a fraction of the cost of
        one by one.
        """
        client = self._client
        self.write_burst(messages, retain=retain)
        waited_s = 0.0
        while client.is_full and waited_s < TIMEOUT_S and not client.lost.done():
            await asyncio.sleep(FULL_PAUSE_S)
            waited_s += FULL_PAUSE_S
        if client.lost.done() or client.is_full:
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

    async def next_message(self) -> Received:
        """Wait for the next message of any subscription. Raises LinkError when the connection ends.

        Only now is it acknowledged: what nobody takes waits with the broker.
        """
        if self._incoming.empty():
            waiting = asyncio.ensure_future(self._incoming.get())
            try:
                await asyncio.wait((waiting, self._client.lost), return_when=asyncio.FIRST_COMPLETED)
            finally:
                if not waiting.done():
                    waiting.cancel()
            if not waiting.done():
                raise self._ended()
            message, mid, qos = await waiting
        else:
            message, mid, qos = self._incoming.get_nowait()
        self._library.ack(mid, qos)
        return message

    async def wait_lost(self) -> LinkError:
        """Wait until the connection ends, and say why it did."""
        await asyncio.wait((self._client.lost,))
        return self._ended()

    async def close(self) -> None:
        """Say goodbye: no will is published."""
        await self._client.close(TIMEOUT_S)

    async def give_up(self) -> None:
        """Of one that never was: leave nothing behind."""
        await self._client.close(0)

    def _ended(self) -> LinkError:
        why = self._client.lost.result()
        told = "" if "Unspecified" in why else f": {why}"  # a broker that stops gives no reason
        return LinkError(f"the connection to the broker ended{told}")

    async def _answered(self, mid: int, what: str) -> list[ReasonCode]:
        """What the broker says of the message or subscription of this number. Raises LinkError."""
        answer: asyncio.Future[list[ReasonCode]] = self._client.lost.get_loop().create_future()
        self._answers[mid] = answer
        either: set[asyncio.Future[Any]] = {answer, self._client.lost}
        try:
            await asyncio.wait(either, timeout=TIMEOUT_S, return_when=asyncio.FIRST_COMPLETED)
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
        if message.qos == 0 and self._incoming.qsize() >= INCOMING_MAX:
            self.dropped += 1
            return
        received = Received(message.topic, bytes(message.payload), message.retain)
        self._incoming.put_nowait((received, message.mid, message.qos))


@asynccontextmanager
async def connect(address: BrokerAddress, *, will: Will | None = None) -> AsyncIterator[Connection]:
    """A connection, said goodbye to at the end. Raises LinkError where there is none to be had."""
    try:
        context = ssl.create_default_context(cafile=address.ca_file) if address.tls else None
    except (OSError, ssl.SSLError) as err:
        raise LinkError(f"{address.url}: certificate file {address.ca_file} cannot be used: {err}") from None
    for protocol in (5, 4) if address.protocol == 5 else (4,):
        connection = Connection(address, protocol, context, will)
        try:
            await _enter(connection, address)
        except _OtherProtocolError:
            if protocol == 4:
                raise
        else:
            break
    try:
        yield connection
    finally:
        await connection.close()


async def _enter(connection: Connection, address: BrokerAddress) -> None:
    """Connect; whatever happens, no socket is left behind."""
    opening = asyncio.ensure_future(connection.open())
    try:
        await asyncio.wait({opening}, timeout=DOUBT_S)
        if not opening.done() and (why := await wrong_scheme(address.host, address.port, address.tls)):
            raise LinkError(f"{address.url} {why}")
        reason = await asyncio.shield(opening)
        if reason is None or reason.value in _OTHER_PROTOCOL:
            raise _OtherProtocolError(
                f"{address.url} lets nobody in: it does not answer, or drops this user name and password"
            )
        if reason.value in _REFUSED:
            raise CredentialRefusedError(
                f"{address.url} refused user {address.username or '(none)'}: check the user name and password"
            )
        if reason.is_failure:
            raise LinkError(f"{address.url} cannot be reached: {reason}")
    except BaseException as error:
        await end(opening)
        await connection.give_up()
        if not isinstance(error, OSError):
            raise
        why = await wrong_scheme(address.host, address.port, address.tls) or f"cannot be reached: {error}"
        raise LinkError(f"{address.url} {why}") from None


class Connect(Protocol):
    """Opens a connection; `connect` is one."""

    def __call__(
        self, address: BrokerAddress, *, will: Will | None = None
    ) -> AbstractAsyncContextManager[Connection]: ...


async def run_session(connection: Connection, session: Callable[[Connection], Awaitable[T]]) -> T:
    """Run `session` while the connection lasts; raises LinkError when it ends first."""
    lost = asyncio.ensure_future(connection.wait_lost())
    work = asyncio.ensure_future(session(connection))
    try:
        await asyncio.wait((lost, work), return_when=asyncio.FIRST_COMPLETED)
        if work.done():
            return work.result()
        raise lost.result()
    finally:
        await end(lost, work)


async def stay_connected(
    address: Callable[[], BrokerAddress],
    session: Callable[[Connection], Awaitable[T]],
    *,
    will: Will | None = None,
    on_down: Callable[[LinkError], None] | None = None,
    connect: Connect = connect,
    chance: Callable[[], float] = random.random,
) -> T:
    """Run `session` on a connection, again on a new one whenever that is lost, until it returns.

    address: asked before each attempt. on_down: told why, once per attempt that failed or ended.
    Pauses between attempts grow to RETRY_MAX_S, with jitter by `chance` (0 up to 1), and start anew after
    a session that lasted longer than that. What the session raises, other than LinkError, ends the loop.
    """
    loop = asyncio.get_running_loop()
    pauses = Pauses(RETRY_FIRST_S, RETRY_MAX_S)
    while True:
        began = loop.time()
        try:
            async with connect(address(), will=will) as connection:
                return await run_session(connection, session)
        except LinkError as err:
            if on_down is not None:
                on_down(err)
        if loop.time() - began >= RETRY_MAX_S:
            pauses.anew()
        await pauses.wait(0.75 + 0.5 * chance())
