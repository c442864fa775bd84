"""The one module that speaks MQTT: a connection, and a loop that keeps one up.

The client library does not reconnect and leaves small packets to Nagle's algorithm (stalls of 40 ms);
both are mended here. A connection speaks MQTT 5 where the broker does, else 3.1.1: only 5 shows
whether a message came from someone who asked for it to be retained.
"""

from __future__ import annotations

import asyncio
import random
import socket
import ssl
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from contextlib import AbstractAsyncContextManager, asynccontextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol, TypeVar
from urllib.parse import urlsplit

import aiomqtt
from paho.mqtt.client import Client, error_string
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from config.errors import ConfigError, Problem
from config.settings import MqttSettings
from link.errors import CredentialRefusedError, LinkError, PublishRefusedError
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
# Messages at QoS 1 that a broker may send before the first of them is acknowledged, which is when it is
# looked at: the rest waits there. MQTT 5 lets a client ask for this; to 3.1.1 the broker has its own figure.
UNACKNOWLEDGED_MAX = 100
# MQTT 5 and 3.1.1 codes for a user name or password that is not accepted.
_REFUSED = (4, 5, 134, 135)
_OTHER_PROTOCOL = (1, 132)
_NODELAY = ((socket.IPPROTO_TCP, socket.TCP_NODELAY, 1),)


class _OtherProtocolError(LinkError):
    """The broker does not know this version of MQTT: some say so, some do not answer."""


@dataclass(frozen=True, slots=True)
class BrokerAddress:
    """Where a broker listens and how to be let in.

    protocol: 5 means try 5 and fall back to 3.1.1; 4 means 3.1.1 only.
    """

    host: str
    port: int
    tls: bool = False
    ca_file: Path | None = None
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    protocol: int = 5

    @property
    def url(self) -> str:
        """As one would write it, without the credential."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{'mqtts' if self.tls else 'mqtt'}://{host}:{self.port}"


@dataclass(frozen=True, slots=True)
class Will:
    """What the broker publishes, retained, when the connection ends without a goodbye."""

    topic: str
    payload: bytes


@dataclass(frozen=True, slots=True)
class Received:
    """One message. retained: its sender asked for it to be kept (as far as the protocol shows)."""

    topic: str
    payload: bytes
    retained: bool


def address_of(settings: MqttSettings) -> BrokerAddress:
    """The configured existing broker. Raises ConfigError where its files cannot be read."""
    parts = urlsplit(settings.url)
    tls = parts.scheme == "mqtts"
    password = None
    if settings.password_file is not None:
        try:
            password = settings.password_file.read_text().splitlines()[0]
        except (OSError, UnicodeDecodeError, IndexError) as err:
            problem = str(err) or "an empty file"
            wanted = "a readable file with the password in its first line"
            raise ConfigError(
                [Problem(str(settings.password_file), None, "mqtt.password_file", problem, wanted)]
            ) from None
    return BrokerAddress(
        host=parts.hostname or "",
        port=parts.port or (8883 if tls else 1883),
        tls=tls,
        ca_file=settings.ca_file,
        username=settings.username,
        password=password,
    )


class _Socket(ssl.SSLSocket):
    """Closes itself where the handshake fails: the library forgets it."""

    def do_handshake(self, block: bool = False) -> None:
        try:
            super().do_handshake(block)
        except OSError:
            self.close()
            raise


class Connection:
    """One connection while it lasts."""

    def __init__(self, client: aiomqtt.Client, protocol: int) -> None:
        self._client = client
        self._protocol = protocol
        self._incoming: asyncio.Queue[tuple[Received, int, int]] = asyncio.Queue()
        self.dropped = 0
        """Messages received at QoS 0 that found no room."""
        self._acknowledged: dict[int, asyncio.Future[ReasonCode]] = {}
        self._pumping = asyncio.ensure_future(self._pump())
        self._paho = client._client
        self._loop = asyncio.get_running_loop()
        # The library would go through the loop once more, as connecting needs: it runs in a thread.
        self._paho.on_socket_register_write = self._write_when_possible
        # The library throws away what the broker says of a message published.
        self._paho.on_publish = self._on_publish

    def _write_when_possible(self, paho: Client, _: object, link: Any) -> None:
        self._loop.add_writer(link.fileno(), paho.loop_write)

    async def publish(self, topic: str, payload: bytes, *, qos: int = 0, retain: bool = False) -> None:
        """Publish; at QoS 1 returns when the broker has acknowledged.

        Raises LinkError, or PublishRefusedError.
        """
        if qos == 0:
            await self.publish_burst([(topic, payload)], retain=retain)
            return
        sent = self._paho.publish(topic, payload, qos, retain)
        if sent.rc:
            raise LinkError(f"could not publish {topic}: {error_string(sent.rc)}")
        answer: asyncio.Future[ReasonCode] = self._loop.create_future()
        self._acknowledged[sent.mid] = answer
        either: set[asyncio.Future[Any]] = {answer, self._pumping}
        try:
            await asyncio.wait(either, timeout=TIMEOUT_S, return_when=asyncio.FIRST_COMPLETED)
        finally:
            del self._acknowledged[sent.mid]
        if not answer.done():
            raise LinkError(f"could not publish {topic}: the broker does not acknowledge it")
        if answer.result().is_failure:
            raise PublishRefusedError(topic, str(answer.result()))

    def _on_publish(self, _: Client, __: object, mid: int, reason: ReasonCode, ___: object) -> None:
        answer = self._acknowledged.get(mid)
        if answer is not None and not answer.done():
            answer.set_result(reason)

    async def publish_burst(self, messages: Sequence[tuple[str, bytes]], *, retain: bool = False) -> None:
        """Publish several (topic, payload) at QoS 0; returns when all have left. Raises LinkError.

        Written at once, and waited for only where the socket takes no more: a fraction of the cost of
        waiting for each.
        """
        for topic, payload in messages:
            last = self._paho.publish(topic, payload, retain=retain)
            if last.rc:
                raise LinkError(f"could not publish {topic}: {error_string(last.rc)}")
        self._paho.loop_write()
        waited_s = 0.0
        while not last.is_published():
            if self._pumping.done() or waited_s >= TIMEOUT_S:
                raise LinkError(f"could not publish {topic}: the broker takes no more")
            await asyncio.sleep(FULL_PAUSE_S)
            waited_s += FULL_PAUSE_S

    async def subscribe(self, topic: str, *, qos: int = 1) -> None:
        """Subscribe; returns when the broker has acknowledged. Raises LinkError, also if refused."""
        try:
            if self._protocol == 5:
                options = SubscribeOptions(qos=qos, retainAsPublished=True)
                codes = await self._client.subscribe(topic, options=options)
            else:
                codes = await self._client.subscribe(topic, qos=qos)
        except aiomqtt.MqttError as err:
            raise LinkError(f"could not subscribe to {topic}: {err}") from None
        if any(code if isinstance(code, int) else code.value >= 128 for code in codes):
            raise LinkError(f"the broker does not allow to read {topic}")

    async def next_message(self) -> Received:
        """Wait for the next message of any subscription. Raises LinkError when the connection ends.

        Only now is it acknowledged: what nobody takes waits with the broker.
        """
        if self._incoming.empty():
            waiting = asyncio.ensure_future(self._incoming.get())
            try:
                await asyncio.wait((waiting, self._pumping), return_when=asyncio.FIRST_COMPLETED)
            finally:
                if not waiting.done():
                    waiting.cancel()
            if not waiting.done():
                self._pumping.result()
            message, mid, qos = await waiting
        else:
            message, mid, qos = self._incoming.get_nowait()
        self._paho.ack(mid, qos)
        return message

    async def wait_lost(self) -> LinkError:
        """Wait until the connection ends, and say why it did."""
        await asyncio.wait((self._pumping,))
        error = self._pumping.exception()
        return error if isinstance(error, LinkError) else LinkError("the connection to the broker ended")

    async def close(self) -> None:
        """Say goodbye: no will is published."""
        await end(self._pumping)
        with suppress(aiomqtt.MqttError):
            await self._client.__aexit__(None, None, None)

    async def _pump(self) -> None:
        """Take messages off the client until the connection ends; then raise LinkError."""
        try:
            async for message in self._client.messages:
                payload = message.payload if isinstance(message.payload, bytes) else b""
                received = Received(str(message.topic), payload, bool(message.retain))
                if message.qos == 0 and self._incoming.qsize() >= INCOMING_MAX:
                    self.dropped += 1
                else:
                    self._incoming.put_nowait((received, message.mid, message.qos))
        except aiomqtt.MqttError as err:
            why = str(err.__cause__ or err)
            told = "" if "Unspecified" in why else f": {why}"  # a broker that stops gives no reason
            raise LinkError(f"the connection to the broker ended{told}") from None
        raise LinkError("the connection to the broker ended")


@asynccontextmanager
async def connect(address: BrokerAddress, *, will: Will | None = None) -> AsyncIterator[Connection]:
    """A connection, said goodbye to at the end. Raises LinkError where there is none to be had."""
    try:
        context = ssl.create_default_context(cafile=address.ca_file) if address.tls else None
        if context is not None:
            context.sslsocket_class = _Socket
    except (OSError, ssl.SSLError) as err:
        raise LinkError(f"{address.url}: certificate file {address.ca_file} cannot be used: {err}") from None
    last_will = aiomqtt.Will(will.topic, will.payload, qos=1, retain=True) if will else None
    for protocol in (5, 4) if address.protocol == 5 else (4,):
        client = aiomqtt.Client(
            address.host,
            address.port,
            username=address.username,
            password=address.password,
            will=last_will,
            protocol=aiomqtt.ProtocolVersion(protocol),
            properties=_wishes() if protocol == 5 else None,
            keepalive=KEEPALIVE_S,
            timeout=TIMEOUT_S,
            tls_context=context,
            socket_options=_NODELAY,
        )
        client._client.manual_ack_set(True)
        try:
            await _enter(client, address)
        except _OtherProtocolError:
            if protocol == 4:
                raise
        else:
            break
    connection = Connection(client, protocol)
    try:
        yield connection
    finally:
        await connection.close()


def _wishes() -> Properties:
    wishes = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
    wishes.ReceiveMaximum = UNACKNOWLEDGED_MAX
    return wishes


async def _enter(client: aiomqtt.Client, address: BrokerAddress) -> None:
    """Connect; whatever happens, no socket and no task of the client is left behind."""
    entering = asyncio.ensure_future(client.__aenter__())
    try:
        await asyncio.wait({entering}, timeout=DOUBT_S)
        if not entering.done() and (why := await wrong_scheme(address.host, address.port, address.tls)):
            await end(entering)
            await _abandon(client)
            raise LinkError(f"{address.url} {why}")
        await asyncio.shield(entering)
    except asyncio.CancelledError:
        with suppress(aiomqtt.MqttError):
            await entering
        await _abandon(client)
        raise
    except aiomqtt.MqttError as err:
        await _abandon(client)
        code = getattr(err, "rc", None)
        number = code if isinstance(code, int) else getattr(code, "value", None)
        if number in _REFUSED:
            raise CredentialRefusedError(
                f"{address.url} refused user {address.username or '(none)'}: check the user name and password"
            ) from None
        if number in _OTHER_PROTOCOL or "Operation timed out" in str(err):
            raise _OtherProtocolError(
                f"{address.url} lets nobody in: it does not answer, or drops this user name and password"
            ) from None
        why = await wrong_scheme(address.host, address.port, address.tls) or f"cannot be reached: {err}"
        raise LinkError(f"{address.url} {why}") from None


async def _abandon(client: aiomqtt.Client) -> None:
    # The library leaves the socket and its watching task of a failed attempt to the keepalive.
    client._client.disconnect()
    if client._misc_task is not None:
        client._misc_task.cancel()
        await asyncio.wait([client._misc_task])


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
