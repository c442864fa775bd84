"""One instrument: found, opened, read, watched over and, whatever happens, found again."""

from __future__ import annotations

import asyncio
import zlib
from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, ParamSpec, TypeVar

import structlog

from config.profile import FreeRunning, GaugeProfile, PortSettings, Requested
from config.settings import GaugeSettings
from drivers.assembly import Assembler, AssemblyStatistics
from drivers.errors import PortAbsentError, PortError
from drivers.finding import find_port
from drivers.port import OpenPort, close_port, open_port
from drivers.reader import Attachment, Clock, PortReader, ReaderStatistics
from drivers.reading import Reading
from drivers.state import GaugeState, PortEvent, PortState, next_state

P = ParamSpec("P")
T = TypeVar("T")

# Missed periods, or unanswered requests, until a gauge counts as silent.
MISSES_TO_SILENCE = 3
# Pause before the first and before every later attempt to open; a gauge plugged in again is to be
# noticed within two seconds, the time of opening included. A good reading starts anew at the first.
FIRST_PAUSE_S = 0.1
LONGEST_PAUSE_S = 0.8
# By how much of itself a pause may be longer, so that eight gauges do not come in step.
PAUSE_SPREAD = 0.25


@dataclass(frozen=True, slots=True)
class InstrumentStatistics:
    """What became of everything since the start.

    assembly: frames and bytes. queue: what waited for the loop. openings: how often the port was
    opened. failures: how often it could not be, or failed while open. unanswered: requests without
    an answer in time.
    """

    assembly: AssemblyStatistics
    queue: ReaderStatistics
    openings: int
    failures: int
    unanswered: int


def own_thread(gauge: str) -> Executor:
    """One thread for one gauge: a port that hangs in opening must not keep the others from theirs."""
    return ThreadPoolExecutor(1, thread_name_prefix=f"port {gauge}")


class Instrument:
    """Runs one configured instrument for ever.

    on_reading gets every reading, on_state every change, both in the loop's thread and in order:
    a first reading comes after the state it causes. opener and finder block; they run in what `thread`
    gives, one for each run.
    """

    def __init__(
        self,
        settings: GaugeSettings,
        profile: GaugeProfile,
        reader: PortReader,
        clock: Clock,
        on_reading: Callable[[Reading], None],
        on_state: Callable[[GaugeState], None],
        *,
        opener: Callable[[str, PortSettings], OpenPort] = open_port,
        finder: Callable[[GaugeSettings], str] = find_port,
        thread: Callable[[str], Executor] = own_thread,
    ) -> None:
        self._settings = settings
        self._profile = profile
        self._reader = reader
        self._clock = clock
        self._on_reading = on_reading
        self._on_state = on_state
        self._opener = opener
        self._finder = finder
        self._thread = thread
        self._executor = thread(settings.id)
        self._log = structlog.get_logger().bind(gauge=settings.id)
        self._assembler = Assembler(settings.id, profile)
        self._state = PortState.ABSENT
        self._told = GaugeState(
            settings.id, PortState.ABSENT, "not looked for yet", clock.monotonic_ns(), None
        )
        self._last: Reading | None = None
        self._heard_ns = 0
        self._bytes_when_heard = 0
        self._port: OpenPort | None = None
        self._port_name = ""
        self._attempt = 0
        self._ended: asyncio.Future[str] | None = None
        self._answer: asyncio.Future[Reading] | None = None
        self._asking = asyncio.Lock()
        self._attachment: Attachment | None = None
        self._queue = ReaderStatistics()
        self._openings = self._failures = self._unanswered = 0

    @property
    def state(self) -> GaugeState:
        """How it stands now."""
        return self._told

    def statistics(self) -> InstrumentStatistics:
        """A snapshot."""
        queue = self._queue
        if self._attachment is not None:
            queue = queue.joined(self._attachment.statistics())
        return InstrumentStatistics(
            self._assembler.statistics(), queue, self._openings, self._failures, self._unanswered
        )

    async def run(self) -> None:
        """Until cancelled: any failure, known or not, closes first and leads back to the beginning."""
        self._executor, self._state = self._thread(self._settings.id), PortState.ABSENT
        try:
            while True:
                try:
                    await self._stay_open()
                except Exception as error:
                    self._failures += 1
                    event = PortEvent.CLOSED if self._state is PortState.LOST else PortEvent.FAILED
                    self._apply(event, self._plain(error))
                await asyncio.sleep(self._pause_s())
        finally:
            self._executor.shutdown(wait=False)

    async def request(self) -> Reading | None:
        """Ask a requested gauge now: its answer, or None in time. Raises PortError."""
        manner = self._profile.manner
        if not isinstance(manner, Requested):
            raise PortError(f"{self._settings.id} is not asked: its profile is {manner.kind}")
        async with self._asking:
            port, ended = self._port, self._ended
            if port is None or ended is None or ended.done():
                raise PortAbsentError(f"{self._settings.id}: {self._told.reason}")
            self._assembler.restart()
            answer: asyncio.Future[Reading] = asyncio.get_running_loop().create_future()
            self._answer = answer
            try:
                await self._in_thread(port.write, manner.request_bytes)
                either: set[asyncio.Future[Any]] = {answer, ended}
                await asyncio.wait(either, timeout=manner.timeout_s, return_when=asyncio.FIRST_COMPLETED)
            except OSError as error:
                raise PortError(f"{self._port_name} cannot be written to ({error})") from error
            finally:
                self._answer = None
            if answer.done():
                return answer.result()
            self._unanswered += 1
            return None

    def take(self, data: bytes, time_ns: int, since_ns: int, lost: int) -> None:
        """For the reader: bytes of the port."""
        try:
            if lost:
                self._assembler.lose(lost)
            readings = self._assembler.feed(data, time_ns, since_ns)
            if readings:
                self._hear(readings)
        except Exception as error:
            self._log.exception("readings could not be handled")
            self.ended(f"its readings could not be handled ({error!r})")

    def ended(self, reason: str) -> None:
        """For the reader: the port failed or its far side went away."""
        if self._ended is not None and not self._ended.done():
            self._ended.set_result(reason)

    def _hear(self, readings: list[Reading]) -> None:
        self._last = readings[-1]
        self._heard_ns = self._clock.monotonic_ns()
        self._bytes_when_heard = self._assembler.bytes_in
        self._attempt = 0
        if self._state is not PortState.LIVE:
            self._apply(PortEvent.READING, f"on {self._port_name}")
        for reading in readings:
            self._on_reading(reading)
        if self._answer is not None and not self._answer.done():
            self._answer.set_result(readings[-1])

    async def _stay_open(self) -> None:
        """From finding the port to its end; always by an exception."""
        self._port_name = await self._in_thread(self._finder, self._settings)
        self._apply(PortEvent.FOUND, f"opening {self._port_name}")
        port = await self._open()
        try:
            self._openings += 1
            self._ended = asyncio.get_running_loop().create_future()
            self._heard_ns = self._clock.monotonic_ns()
            self._bytes_when_heard = self._assembler.bytes_in
            self._attachment = self._reader.attach(port, self)
            self._port = port
            self._apply(PortEvent.OPENED, f"listening on {self._port_name}")
            await self._watch(self._ended)
        except Exception as error:
            self._apply(PortEvent.BROKE, self._plain(error))
            raise
        finally:
            self._port = None
            try:
                if self._attachment is not None:
                    await self._reader.detach(self._attachment)
                    self._queue = self._queue.joined(self._attachment.statistics())
                    self._attachment = None
                # A frame that the end cut short must not be glued to what comes when it is back.
                self._assembler.restart()
            finally:
                await self._in_thread(close_port, port)

    async def _watch(self, ended: asyncio.Future[str]) -> None:
        manner = self._profile.manner
        if isinstance(manner, FreeRunning):
            await self._watch_free_running(ended, round(MISSES_TO_SILENCE * manner.period_s * 1e9))
        elif isinstance(manner, Requested):
            await self._keep_asking(ended, manner)
        else:
            self._apply(PortEvent.READY, f"on {self._port_name}, waiting for its key")
            await asyncio.wait({ended})
        raise PortError(f"{self._port_name}: {ended.result()}; looking for it again")

    async def _watch_free_running(self, ended: asyncio.Future[str], limit_ns: int) -> None:
        while not ended.done():
            left_ns = self._heard_ns + limit_ns - self._clock.monotonic_ns()
            if left_ns <= 0:
                if self._state is not PortState.SILENT:
                    self._apply(PortEvent.MISSED, self._why_silent(f"for {limit_ns / 1e9:g} s"))
                    # A cable put back at the gauge's end may let in the rest of a frame first.
                    self._assembler.restart()
                left_ns = limit_ns
            await asyncio.wait({ended}, timeout=left_ns / 1e9)

    async def _keep_asking(self, ended: asyncio.Future[str], manner: Requested) -> None:
        misses = 0
        while not ended.done():
            asked_ns = self._clock.monotonic_ns()
            misses = 0 if await self.request() is not None else misses + 1
            if misses == MISSES_TO_SILENCE and not ended.done():
                self._apply(PortEvent.MISSED, self._why_silent(f"to {misses} requests"))
            left_s = manner.period_s - (self._clock.monotonic_ns() - asked_ns) / 1e9
            if left_s > 0 and not ended.done():
                await asyncio.wait({ended}, timeout=left_s)

    def _why_silent(self, since: str) -> str:
        came = self._assembler.bytes_in - self._bytes_when_heard
        if came:
            heard = self._assembler.last_rejected
            return (
                f"{came} bytes came on {self._port_name} but no reading {since}"
                f"{f', such as {heard!r}' if heard is not None else ''}: "
                f"check that profile {self._profile.id} suits the gauge, its baud rate first"
            )
        return f"nothing came on {self._port_name} {since}: switch the gauge on and check its cable"

    def _plain(self, error: Exception) -> str:
        if isinstance(error, PortError):
            return str(error)
        if self._state is not PortState.LOST:  # said once, not again after closing
            self._log.error("instrument failed", exc_info=error)
        return f"{self._port_name or self._settings.id} failed unexpectedly ({error!r}); trying again"

    def _apply(self, event: PortEvent, reason: str) -> None:
        self._state = next_state(self._state, event)
        told = self._told
        # Trying again and again is no news: the reason of the failure stands meanwhile.
        if self._state is PortState.OPENING and told.state is PortState.ABSENT and self._failures:
            return
        if (told.state, told.reason) == (self._state, reason):
            return
        since_ns = told.since_ns if told.state is self._state else self._clock.monotonic_ns()
        self._told = GaugeState(self._settings.id, self._state, reason, since_ns, self._last)
        self._log.info("gauge state", state=self._state.value, reason=reason)
        try:
            self._on_state(self._told)
        except Exception:  # who listens must not stop who reads
            self._log.exception("gauge state could not be told")

    def _pause_s(self) -> float:
        pause_s = min(FIRST_PAUSE_S * 2.0**self._attempt, LONGEST_PAUSE_S)
        self._attempt = min(self._attempt + 1, 16)
        spread = zlib.crc32(f"{self._settings.id} {self._failures}".encode()) / 2**32
        return pause_s * (1 + PAUSE_SPREAD * spread)

    async def _open(self) -> OpenPort:
        opening = self._executor.submit(self._opener, self._port_name, self._profile.port)
        try:
            return await asyncio.wrap_future(opening)
        except asyncio.CancelledError:
            # The thread goes on; what it still opens, nobody else would close.
            opening.add_done_callback(_close_result)
            raise

    async def _in_thread(self, call: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        return await asyncio.wrap_future(self._executor.submit(call, *args, **kwargs))


def _close_result(opening: Future[OpenPort]) -> None:
    if not opening.cancelled() and opening.exception() is None:
        close_port(opening.result())
