"""One instrument: found, opened, read, watched over and, whatever happens, found again."""

from __future__ import annotations

import asyncio
import zlib
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, ParamSpec, TypeVar

import structlog

from config.profile import GaugeProfile, PortSettings
from config.settings import GaugeSettings
from contract.pauses import Pauses
from drivers.assembly import Assembler, AssemblyStatistics
from drivers.doubts import Doubts
from drivers.errors import PortAbsentError, PortError
from drivers.finding import find_port
from drivers.manners import behaviour
from drivers.plugs import NoNews, Plugs
from drivers.reader import Attachment, Monotonic, Reader, ReaderStatistics
from drivers.reading import Reading
from drivers.state import GaugeState, PortEvent, PortState, next_state
from drivers.transports import OpenPort, close_port, open_port
from drivers.transports.marks import ErrorMarks, mark_errors

P = ParamSpec("P")
T = TypeVar("T")

# Pause before the first and before every later attempt to open. A good reading starts anew at the first, and
# so does the kernel's word that something was plugged in. Where nobody tells, it is looked for no oftener
# than once a second, and noticed within two, the time of opening included.
FIRST_PAUSE_S = 0.1
LONGEST_PAUSE_S = 1.0
# By how much of itself a pause may be longer, so that eight gauges do not come in step.
PAUSE_SPREAD = 0.25
# What a person at the bay has to see to: a warning in the log.
_NEEDS_SOMEBODY = (PortEvent.MISSED, PortEvent.BROKE, PortEvent.FAILED)


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
    gives, one for each run. plugs: what tells that something was plugged in.
    """

    def __init__(
        self,
        settings: GaugeSettings,
        profile: GaugeProfile,
        reader: Reader,
        clock: Monotonic,
        on_reading: Callable[[Reading], None],
        on_state: Callable[[GaugeState], None],
        *,
        opener: Callable[[str, PortSettings], OpenPort] = open_port,
        finder: Callable[[GaugeSettings, PortSettings], str] = find_port,
        thread: Callable[[str], Executor] = own_thread,
        plugs: Plugs | None = None,
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
        self._plugs = NoNews() if plugs is None else plugs
        self._executor = thread(settings.id)
        self._log = structlog.get_logger().bind(gauge=settings.id)
        self._assembler = Assembler(settings.id, profile)
        self._behaviour = behaviour(profile.manner)
        self._state = PortState.ABSENT
        self._told = GaugeState(
            settings.id, PortState.ABSENT, "not looked for yet", clock.monotonic_ns(), None
        )
        self._last: Reading | None = None
        self._heard_ns = 0
        self._doubts = Doubts(profile, self._assembler)
        self._marks: ErrorMarks | None = None
        self._warning = ""
        self._port: OpenPort | None = None
        self._port_name = ""
        self._pauses = Pauses(FIRST_PAUSE_S, LONGEST_PAUSE_S)
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
                if await self._plugs.wait(self._pause_s()):
                    self._pauses.anew()
        finally:
            self._executor.shutdown(wait=False)

    async def request(self) -> Reading | None:
        """Ask a requested gauge now: its answer, or None in time. Raises PortError."""
        request, timeout_s = self._behaviour.request, self._behaviour.timeout_s
        if request is None:
            raise PortError(f"{self._settings.id} is not asked: its profile is {self._profile.manner.kind}")
        async with self._asking:
            port, ended = self._port, self._ended
            if port is None or ended is None or ended.done():
                raise PortAbsentError(f"{self._settings.id}: {self._told.reason}")
            self._assembler.restart()
            answer: asyncio.Future[Reading] = asyncio.get_running_loop().create_future()
            self._answer = answer
            try:
                await self._in_thread(port.write, request)
                either: set[asyncio.Future[Any]] = {answer, ended}
                await asyncio.wait(either, timeout=timeout_s, return_when=asyncio.FIRST_COMPLETED)
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
            readings: list[Reading] = []
            pieces = [(0, data)] if self._marks is None else self._marks.taken(data)
            for wrong, piece in pieces:
                if wrong:
                    self._assembler.spoil(wrong)
                readings += self._assembler.feed(piece, time_ns, since_ns)
            if readings and (meant := self._behaviour.admitted(readings)):
                self._hear(meant)
            elif not readings and self._doubts.are_new(b"".join(piece for _, piece in pieces)):
                self._apply(PortEvent.MISSED, self._doubts.why(self._port_name))
        except Exception as error:
            self._log.exception("readings could not be handled")
            self.ended(f"its readings could not be handled ({error!r})")

    def ended(self, reason: str) -> None:
        """For the reader: the port failed or its far side went away."""
        if self._ended is not None and not self._ended.done():
            self._ended.set_result(reason)

    def _hear(self, readings: Sequence[Reading]) -> None:
        self._last = readings[-1]
        self._heard_ns = self._clock.monotonic_ns()
        self._doubts.begin()
        self._pauses.anew()
        warning = self._doubts.warning()
        if self._state is not PortState.LIVE or warning != self._warning:
            self._warning = warning
            self._apply(PortEvent.READING, "; ".join(filter(None, (f"on {self._port_name}", warning))))
        for reading in readings:
            self._on_reading(reading)
        if self._answer is not None and not self._answer.done():
            self._answer.set_result(readings[-1])

    async def _stay_open(self) -> None:
        """From finding the port to its end; always by an exception."""
        self._port_name = await self._in_thread(self._finder, self._settings, self._profile.port)
        self._apply(PortEvent.FOUND, f"opening {self._port_name}")
        port = await self._open()
        try:
            self._openings += 1
            self._ended = asyncio.get_running_loop().create_future()
            self._heard_ns = self._clock.monotonic_ns()
            self._doubts.begin()
            self._marks = await self._in_thread(mark_errors, port, self._profile.port)
            self._asking = getattr(port, "asking", self._asking)  # one that several share: in turn
            self._attachment = self._reader.attach(port, self)
            self._port = port
            self._apply(PortEvent.OPENED, f"listening on {self._port_name}")
            await self._behaviour.watch(_Line(self, self._ended))
            raise PortError(f"{self._port_name}: {self._ended.result()}; looking for it again")
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
                self._assembler.reopened()
            finally:
                await self._in_thread(close_port, port)

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
        warning = self._warning if self._state is PortState.LIVE else ""
        self._told = GaugeState(self._settings.id, self._state, reason, since_ns, self._last, warning)
        tell = self._log.warning if event in _NEEDS_SOMEBODY else self._log.info
        tell("gauge state", state=self._state.told, reason=reason)
        try:
            self._on_state(self._told)
        except Exception:  # who listens must not stop who reads
            self._log.exception("gauge state could not be told")

    def _pause_s(self) -> float:
        spread = zlib.crc32(f"{self._settings.id} {self._failures}".encode()) / 2**32
        return self._pauses.next_s() * (1 + PAUSE_SPREAD * spread)

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


class _Line:
    """An instrument's open port, as its manner sees it."""

    def __init__(self, instrument: Instrument, ended: asyncio.Future[str]) -> None:
        self._instrument = instrument
        self.ended = ended
        self.now_ns = instrument._clock.monotonic_ns
        self.restart = instrument._assembler.restart
        self.request = instrument.request
        self.port = instrument._port

    async def aside(self, call: Callable[[], T]) -> T:
        try:
            return await self._instrument._in_thread(call)
        except OSError as error:
            name = self._instrument._port_name
            raise PortError(f"{name} cannot tell of its lines ({error.strerror or error})") from error

    @property
    def heard_ns(self) -> int:
        return self._instrument._heard_ns

    @property
    def is_silent(self) -> bool:
        return self._instrument._state is PortState.SILENT

    def ready(self, waiting_for: str) -> None:
        self._instrument._apply(PortEvent.READY, f"on {self._instrument._port_name}, {waiting_for}")

    def missed(self, since: str) -> None:
        why = self._instrument._doubts.why(self._instrument._port_name, since)
        self._instrument._apply(PortEvent.MISSED, why)


def _close_result(opening: Future[OpenPort]) -> None:
    if not opening.cancelled() and opening.exception() is None:
        close_port(opening.result())
