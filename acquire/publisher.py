"""What goes out on MQTT, and how urgently.

    kept state  retained, QoS 1; the latest wins; all of it again after each connect; what the broker
                refuses is offered again
    live        retained, QoS 0; at most 20 a second; asked for only when it is about to be sent
    readings    QoS 0; in a bounded queue; the oldest are dropped, and counted
    replies     QoS 1; wait for a connection; no command is taken while too many do: the rest waits with
                the broker
    outbox      QoS 1, in order; a row is done only after its acknowledged publish; one that the broker
                refuses waits, with those after it of its topic, and holds up no other

Callers are on the loop and never wait; nothing here is lost uncounted.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable, Collection, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Protocol

from acquire.refusals import Again, Refusals
from contract.states import reading_payload, status_payload
from contract.topics import Topics
from drivers.reading import Reading
from link.bursts import BurstConnection
from link.connection import Received
from link.errors import LinkError, PublishRefusedError
from link.tasks import end

# Seconds between two live messages: 20 a second, as fast as an eye follows figures.
LIVE_PERIOD_S = 0.05
# Readings waiting to be sent: 10 s of eight gauges at 50 a second.
READINGS_MAX = 4000
# Commands that may be under way without their reply having gone out.
REPLIES_MAX = 1000
# First and longest pause before what the broker refused is offered again: someone mends an access list.
REFUSED_FIRST_S, REFUSED_MAX_S = 1.0, 60.0
# Waiting rows fetched at a time.
OUTBOX_ROWS = 100
# Readings sent in one go before the loop's other tasks get a turn.
_BURST = 200


class WaitingMessage(Protocol):
    """A message that waits in the journal."""

    @property
    def id(self) -> int: ...
    @property
    def topic(self) -> str: ...
    @property
    def payload(self) -> bytes: ...
    @property
    def retain(self) -> bool: ...


class Waiting(Protocol):
    """The journal's messages for MQTT, oldest first."""

    async def pending(self, limit: int, without: Collection[int] = ()) -> Sequence[WaitingMessage]: ...

    async def done(self, row_id: int) -> None: ...


@dataclass(frozen=True, slots=True)
class PublisherStatistics:
    """Counts since the start."""

    readings_sent: int
    readings_dropped: int
    readings_peak: int
    live_sent: int
    replies_sent: int
    replies_refused: int
    outbox_sent: int
    connects: int


class Publisher:
    """Holds what is to be sent, and sends it while there is a connection (`session`)."""

    def __init__(
        self,
        topics: Topics,
        outbox: Waiting,
        *,
        live: Callable[[], bytes],
        on_command: Callable[[str, bytes, bool], None],
        on_checkpoint: Callable[[bytes], None] = lambda _: None,
        on_method: Callable[[bytes], None] | None = None,
        on_no_method: Callable[[str], None] = lambda _: None,
        readings_max: int = READINGS_MAX,
    ) -> None:
        self._topics = topics
        self._outbox = outbox
        self._live = live
        self._on_command, self._on_checkpoint = on_command, on_checkpoint
        self._on_method, self._on_no_method = on_method, on_no_method
        self._kept: dict[str, bytes] = {}
        self._stale: dict[str, None] = {}
        self._readings: deque[Reading] = deque()
        self._readings_max = readings_max
        self._replies: deque[tuple[str, bytes]] = deque()
        self._state_changed = asyncio.Event()
        self._live_changed = asyncio.Event()
        self._reading_came = asyncio.Event()
        self._reply_came = asyncio.Event()
        self._outbox_grew = asyncio.Event()
        self._reply_gone = asyncio.Event()
        self._leaving = asyncio.Event()
        self._refusals = Refusals(self._status_changed)
        self._warnings: tuple[str, ...] = ()
        self._owed = 0
        self._connection: BurstConnection | None = None
        self._reading_topics: dict[str, str] = {}
        self._readings_sent = self._readings_dropped = self._readings_peak = 0
        self._live_sent = self._replies_sent = self._replies_refused = 0
        self._outbox_sent = self._connects = 0

    @property
    def is_connected(self) -> bool:
        """Whether there is a connection now."""
        return self._connection is not None

    def statistics(self) -> PublisherStatistics:
        """Counts since the start, as they are now."""
        return PublisherStatistics(
            self._readings_sent,
            self._readings_dropped,
            self._readings_peak,
            self._live_sent,
            self._replies_sent,
            self._replies_refused,
            self._outbox_sent,
            self._connects,
        )

    def keep(self, topic: str, payload: bytes) -> None:
        """State to be retained under `topic`; sent now and after each connect until replaced."""
        if self._kept.get(topic) != payload:
            self._kept[topic] = payload
            self._stale[topic] = None
            self._state_changed.set()

    def reading(self, reading: Reading) -> None:
        """One reading for whoever listens now; it leaves with `send_readings`, or once a burst is full.
        Without a connection it is dropped, and counted."""
        if self._connection is None:
            self._readings_dropped += 1
            return
        if len(self._readings) >= self._readings_max:
            self._readings.popleft()
            self._readings_dropped += 1
        self._readings.append(reading)
        waiting = len(self._readings)
        if waiting > self._readings_peak:
            self._readings_peak = waiting
        if waiting >= _BURST:
            self.send_readings()

    def send_readings(self) -> None:
        """Send the readings that wait, at once; where the connection takes no more just now, once it does."""
        connection = self._connection
        while self._readings and connection is not None and connection.is_free:
            burst = self._next_burst()
            connection.write_burst(burst)
            self._readings_sent += len(burst)
        if self._readings:
            self._reading_came.set()

    def live_changed(self) -> None:
        """The live figures are other than before; `live` will be asked for them in time."""
        self._live_changed.set()

    def reply(self, request: str, payload: bytes) -> None:
        """The answer to one request; waits for a connection if need be. Each command has one."""
        self._replies.append((self._topics.reply(request), payload))
        self._reply_came.set()

    def warn(self, *warnings: str) -> None:
        """What whoever looks at the bay's status should know; none: all is well again."""
        if warnings != self._warnings:
            self._warnings = warnings
            self._status_changed()

    def outbox_grew(self) -> None:
        """The journal has committed rows for MQTT."""
        self._outbox_grew.set()

    def leave(self) -> None:
        """End the session: say `offline`, and no more."""
        self._leaving.set()

    async def session(self, connection: BurstConnection) -> None:
        """Send everything over `connection` until it ends, or until `leave`."""
        await connection.subscribe(self._topics.commands)
        with suppress(LinkError):  # a broker that does not let us look is no reason to say nothing
            await connection.subscribe(self._topics.checkpoint)
        if self._on_method is not None:
            try:
                await connection.subscribe(self._topics.issued_method)
            except LinkError as error:
                self._on_no_method(str(error))
        self._status_changed()
        said = self._kept[self._topics.status]
        is_said = await self._publish(connection, self._topics.status, said, retain=True)
        self._connects += 1
        self._stale = dict.fromkeys(self._kept)
        if is_said and self._kept[self._topics.status] == said:
            del self._stale[self._topics.status]
        for event in (
            self._state_changed,
            self._live_changed,
            self._reading_came,
            self._reply_came,
            self._outbox_grew,
        ):
            event.set()
        self._connection = connection
        tasks = [
            asyncio.ensure_future(work)
            for work in (
                self._take_commands(connection),
                self._send_state(connection),
                self._send_outbox(connection),
                self._send_live(connection),
                self._send_readings(connection),
                self._send_replies(connection),
            )
        ]
        leaving = asyncio.ensure_future(self._leaving.wait())
        try:
            done, _ = await asyncio.wait((*tasks, leaving), return_when=asyncio.FIRST_COMPLETED)
            for task in done:
                task.result()
        finally:
            self._connection = None
            self._readings_dropped += len(self._readings)
            self._readings.clear()
            await end(*tasks, leaving)
        # Said by ourselves: a will is only for those who could not.
        await self._publish(connection, self._topics.status, status_payload("offline"), retain=True)

    def _status(self) -> bytes:
        return status_payload("online", [*self._warnings, *self._refusals.warnings()])

    def _status_changed(self) -> None:
        self.keep(self._topics.status, self._status())

    async def _publish(
        self, connection: BurstConnection, topic: str, payload: bytes, *, retain: bool = False, name: str = ""
    ) -> bool:
        """At QoS 1; False where the broker refuses it. name: for topics used once. Raises LinkError."""
        try:
            await connection.publish(topic, payload, qos=1, retain=retain)
        except PublishRefusedError as error:
            self._refusals.refused(error, name or topic)
            return False
        self._refusals.accepted(name or topic)
        return True

    async def _take_commands(self, connection: BurstConnection) -> None:
        with suppress(LinkError):  # as of checkpoints
            await connection.subscribe(self._topics.gauge_state("+"))
        while True:
            message: Received = await connection.next_message()
            if self._topics.is_gauge_state(message.topic):
                if message.payload and message.topic not in self._kept:
                    # A gauge's that was taken out of the configuration: nobody else would ever clear it.
                    await self._publish(connection, message.topic, b"", retain=True)
                continue
            if message.topic == self._topics.checkpoint:
                self._on_checkpoint(message.payload)
                continue
            if message.topic == self._topics.issued_method and self._on_method is not None:
                self._on_method(message.payload)
                continue
            self._owed += 1
            self._on_command(self._topics.command_name(message.topic), message.payload, message.retained)
            while self._owed >= REPLIES_MAX:
                self._reply_gone.clear()
                await self._reply_gone.wait()

    async def _send_state(self, connection: BurstConnection) -> None:
        again = Again(asyncio.get_running_loop().time, REFUSED_FIRST_S, REFUSED_MAX_S)
        held: dict[str, None] = {}
        while True:
            with suppress(TimeoutError):
                async with asyncio.timeout_at(again.at):
                    await self._state_changed.wait()
            self._state_changed.clear()
            if again.is_due():
                self._stale.update(held)
                held.clear()
            while self._stale:
                topic = next(iter(self._stale))
                payload = self._kept[topic]
                is_taken = await self._publish(connection, topic, payload, retain=True)
                if self._kept[topic] == payload:
                    self._stale.pop(topic, None)
                if is_taken:
                    held.pop(topic, None)
                else:
                    held[topic] = None
                    again.refused()
            if not held:
                again.well()

    async def _send_live(self, connection: BurstConnection) -> None:
        sent = b""
        while True:
            await self._live_changed.wait()
            self._live_changed.clear()
            payload = self._live()
            if payload != sent:
                await connection.publish(self._topics.live, payload, retain=True)
                sent = payload
                self._live_sent += 1
            await asyncio.sleep(LIVE_PERIOD_S)

    async def _send_readings(self, connection: BurstConnection) -> None:
        """What found the connection full."""
        while True:
            await self._reading_came.wait()
            self._reading_came.clear()
            while self._readings:
                burst = self._next_burst()
                try:
                    await connection.publish_burst(burst)
                except BaseException:
                    self._readings_dropped += len(burst)
                    raise
                self._readings_sent += len(burst)
                await asyncio.sleep(0)

    def _next_burst(self) -> list[tuple[str, bytes]]:
        topics, burst = self._reading_topics, []
        for _ in range(min(_BURST, len(self._readings))):
            reading = self._readings.popleft()
            topic = topics.get(reading.gauge)
            if topic is None:
                topic = topics[reading.gauge] = self._topics.gauge_reading(reading.gauge)
            said = reading_payload(reading.seq, reading.time_ns, reading.value, reading.unit, reading.u_ns)
            burst.append((topic, said))
        return burst

    async def _send_replies(self, connection: BurstConnection) -> None:
        while True:
            await self._reply_came.wait()
            self._reply_came.clear()
            while self._replies:
                reply = self._replies[0]
                if await self._publish(connection, *reply, name="replies"):
                    self._replies_sent += 1
                else:
                    self._replies_refused += 1
                self._replies.popleft()
                self._owed = max(0, self._owed - 1)
                self._reply_gone.set()

    async def _send_outbox(self, connection: BurstConnection) -> None:
        again = Again(asyncio.get_running_loop().time, REFUSED_FIRST_S, REFUSED_MAX_S)
        held: set[int] = set()
        topics: set[str] = set()
        while True:
            if again.is_due():
                held.clear()
                topics.clear()
            self._outbox_grew.clear()
            rows = await self._outbox.pending(OUTBOX_ROWS, held)
            for row in rows:
                if row.topic not in topics and await self._send_row(connection, row):
                    continue
                again.refused()
                held.add(row.id)
                topics.add(row.topic)
            if not rows:
                if not held:
                    again.well()
                with suppress(TimeoutError):
                    async with asyncio.timeout_at(again.at):
                        await self._outbox_grew.wait()

    async def _send_row(self, connection: BurstConnection, row: WaitingMessage) -> bool:
        if row.retain:  # a broker that forgets is told again at the next connect
            self._kept[row.topic] = row.payload
            self._stale.pop(row.topic, None)  # what was kept before must not go out after it
        if not await self._publish(connection, row.topic, row.payload, retain=row.retain):
            return False
        await self._outbox.done(row.id)
        self._outbox_sent += 1
        return True
