"""What bays bridged into a cluster of NATS servers, by a durable consumer: handed out until acknowledged.

The cluster keeps a message at QoS 1 only for consumers that are there when it comes (retention `interest`):
so stream and consumer are made here, before the first bay bridges, and looked at on every connect and while
nothing comes. MQTT of the cluster takes up the stream that is there.
"""

from __future__ import annotations

import asyncio
import ssl
from collections.abc import AsyncGenerator, AsyncIterator, Sequence
from contextlib import suppress

import nats
import structlog
from nats.aio.client import Client
from nats.aio.msg import Msg
from nats.errors import Error, NoRespondersError, NoServersError
from nats.js import JetStreamContext

from config.stream import StreamSettings
from contract.pauses import Pauses
from contract.subjects import subject_of, topic_of
from link.address import first_line
from link.ended import out_of_date
from link.errors import CredentialRefusedError, LinkError
from link.kept import STREAM, make_sure

LOOK_S = 5.0
"""Seconds without a message after which the consumer is looked at."""
# Seconds for the cluster to answer, and between two signs of life, of which two may be missed.
ANSWER_S, PING_S = 5, 10
RETRY_FIRST_S, RETRY_MAX_S = 0.1, 3.0
HEARD_S = 1.0
"""Seconds within which the cluster says that nobody is there to hear."""


class StreamBatch:
    """Some messages of one connection."""

    def __init__(self, held: Sequence[Msg], waiting: dict[str, Msg]) -> None:
        """waiting: of its connection, by where they are acknowledged."""
        self._held, self._waiting = held, waiting
        waiting.update((message.reply, message) for message in held)

    @property
    def messages(self) -> Sequence[tuple[str, bytes]]:
        """Each its topic, as the bay's broker has it, and its payload."""
        return [(topic_of(message.subject), message.data) for message in self._held]

    async def taken(self) -> None:
        """They are on record: the cluster may let them go. With its connection gone they come again."""
        for message in self._held:
            self._waiting.pop(message.reply, None)
            with suppress(Error, OSError):
                await message.ack()


class StreamReader:
    """Messages of all bays of a cluster. Loses none: what was not `taken` comes again, to this or another."""

    def __init__(self, settings: StreamSettings, enough: int, batch_max: int, gather_s: float) -> None:
        """enough, gather_s: messages in a batch that waits for no more, and for how long they are gathered;
        batch_max: of those that are there already."""
        self._settings, self._gather_s = settings, gather_s
        self._enough, self._batch_max = enough, batch_max
        self._client: Client | None = None
        self._refused: list[str] = []
        """What the cluster has said that this user may not, on the connection there is."""
        self._log = structlog.get_logger().bind(consumer=settings.consumer)

    async def batches(self) -> AsyncGenerator[StreamBatch, None]:
        """For ever, over lost connections, each logged once; `aclose` ends it.

        Raises ConfigError where a file that is named cannot be read, StreamError where the consumer that is
        there is not one to read from.
        """
        pauses = Pauses(RETRY_FIRST_S, RETRY_MAX_S)
        said, is_told = "", False
        while True:
            try:
                async for batch in self._session():
                    if said or not is_told:
                        self._log.info("the cluster is there again" if said else "connected")
                        said, is_told = "", True
                    pauses.anew()
                    if batch.messages:
                        yield batch
            except LinkError as error:
                if str(error) != said:
                    said = str(error)
                    self._log.warning("the cluster is not there; trying on", reason=said)
            await pauses.wait()

    async def ask(self, topic: str, payload: bytes) -> bool:
        """By the bay's bridge, which takes `resend` alone; False where it is not there now. The bay answers
        at its own broker: that nobody answers here in time is as it must be."""
        client = self._client
        if client is None:
            return False
        try:
            await client.request(subject_of(topic), payload, timeout=HEARD_S)
        except NoRespondersError:
            return False
        except TimeoutError:  # the library's own is one
            if any(subject_of(topic) in said for said in self._refused):
                self._log.warning(
                    "the cluster does not let this writer ask a bay to send again: node-users.conf says how",
                    topic=topic,
                )
                return False
            return True
        except (Error, OSError) as error:
            self._log.warning("a bay could not be asked", topic=topic, reason=_why(error))
            return False
        return True

    async def _session(self) -> AsyncIterator[StreamBatch]:
        """Of one connection; the first, and each while nothing comes, is empty. Raises LinkError."""
        self._refused = []
        client = await self._connect()
        waiting: dict[str, Msg] = {}
        try:
            stream = client.jetstream(timeout=ANSWER_S)
            await self._ready(stream)
            yield StreamBatch([], waiting)
            self._client = client
            pull = await stream.pull_subscribe_bind(self._settings.consumer, STREAM)
            while True:
                held = await self._gather(pull)
                if not held:
                    await self._ready(stream)
                yield StreamBatch(held, waiting)
        except (Error, OSError) as error:
            raise LinkError(f"the connection to the cluster ended: {_why(error)}") from None
        finally:
            self._client = None
            for message in waiting.values():  # to another writer at once
                with suppress(Error, OSError):
                    await message.nak()
            with suppress(Error, OSError):
                await client.close()

    async def _gather(self, pull: JetStreamContext.PullSubscription) -> list[Msg]:
        try:
            held = await pull.fetch(self._batch_max, timeout=LOOK_S)
        except TimeoutError:  # the library's own is one
            return []
        if len(held) < self._enough:
            await asyncio.sleep(self._gather_s)
            with suppress(TimeoutError):
                held += await pull.fetch(self._batch_max - len(held), timeout=self._gather_s)
        return held

    async def _ready(self, stream: JetStreamContext) -> None:
        try:
            await make_sure(stream, self._settings, self._log)
        except (Error, OSError) as error:
            why = f"it refuses this user ({self._refused[-1]})" if self._refused else _why(error)
            raise LinkError(f"the cluster does not serve this writer yet: {why}") from None

    async def _connect(self) -> Client:
        settings, refused = self._settings, self._refused

        async def told(error: Exception) -> None:
            if "permissions violation" in str(error).lower():
                refused.append(str(error).removeprefix("nats: "))

        servers = [server.rstrip("/") for server in settings.servers]
        password = None
        if settings.password_file is not None:
            password = first_line(settings.password_file, "source.password_file")
        last: list[Exception] = []

        async def heard(error: Exception) -> None:
            last.append(error)
            await told(error)

        try:
            return await nats.connect(
                servers,
                name=settings.client or settings.consumer,
                user=settings.username,
                password=password,
                tls=self._context() if settings.is_secured else None,
                allow_reconnect=False,  # mended here
                max_reconnect_attempts=1,  # each of them is asked twice; without this for minutes
                reconnect_time_wait=RETRY_FIRST_S,
                connect_timeout=ANSWER_S,
                ping_interval=PING_S,
                max_outstanding_pings=2,
                error_cb=heard,
            )
        except (Error, OSError) as error:
            why = last[-1] if isinstance(error, NoServersError) and last else error
            places = ", ".join(servers)
            if "authorization" in str(why).lower():
                raise CredentialRefusedError(
                    f"{places} refused this writer: its user (with a certificate, the subject) must stand in "
                    "node-users.conf"
                ) from None
            # Told by one server thus and by another so: where we know better, once.
            ended = out_of_date(settings.certificate)
            raise LinkError(f"{places} cannot be reached: {ended or _why(why)}") from None

    def _context(self) -> ssl.SSLContext:
        settings = self._settings
        try:
            context = ssl.create_default_context(cafile=settings.ca_file)
            if settings.certificate is not None:
                context.load_cert_chain(settings.certificate, settings.key, password="")
        except (OSError, ssl.SSLError, ValueError) as error:
            files = ", ".join(str(f) for f in (settings.ca_file, settings.certificate, settings.key) if f)
            raise LinkError(f"one of {files} cannot be used: {error}") from None
        return context


def _why(error: Exception) -> str:
    return str(error).removeprefix("nats: ") or type(error).__name__
