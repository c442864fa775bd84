"""Reading and stamping off the loop, so that a busy loop moves no stamp.

One thread reads every port that has a descriptor with `os.read`; a port without one (rfc2217, USB) has a
thread of its own. Both stamp each piece as it comes and hand over in batches: at most one call into the loop
is under way, however many pieces wait. A loop that tells of its turns (drivers.turns) reads and stamps those
with a descriptor by itself as it wakes, and the thread while it is busy.

Whoever reads can be late: the machine is busy, or was held up. The thread looks at all ports every POLL_S
even where nothing comes, so that it is known since when a port had been empty; with each piece goes that time
too.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import select
import selectors
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from types import TracebackType
from typing import Protocol, Self

from drivers.transports import READ_TIMEOUT_S, OpenPort
from drivers.turns import TurnsLoop

# Seconds between two looks at a port at most; and by how much more than its own wait a thread of its own may
# be late before that is told.
POLL_S, LATE_S = 0.01, 0.005
# One read takes what a pseudo-terminal or a socket holds ready.
READ_BYTES = 65_536
# What one call into the loop hands over before others get their turn: about 20 ms of decoding.
BATCH_BYTES = 65_536
# Ports told of in one look; the others are told of in the next.
PORTS_MAX = 64
# A read that gives fewer bytes has taken all there was: a terminal gives a page at most.
PAGE_BYTES = 4_095


class Monotonic(Protocol):
    """Monotonic nanoseconds."""

    def monotonic_ns(self) -> int: ...


class Sink(Protocol):
    """Who gets a port's bytes, in the loop's thread."""

    def take(self, data: bytes, time_ns: int, since_ns: int, lost: int) -> None:
        """`data` came after `since_ns` and by `time_ns`; `lost` bytes before it were dropped, the queue
        being full."""

    def ended(self, reason: str) -> None:
        """The port failed or its far side went away; nothing follows."""


@dataclass(frozen=True, slots=True)
class ReaderStatistics:
    """One port's queue: bytes read, bytes dropped because it was full, and its fullest ever."""

    bytes_in: int = 0
    bytes_lost: int = 0
    peak_fill: int = 0

    def joined(self, later: ReaderStatistics) -> ReaderStatistics:
        """Of this port's queue and, after it was opened anew, a later one."""
        return ReaderStatistics(
            self.bytes_in + later.bytes_in,
            self.bytes_lost + later.bytes_lost,
            max(self.peak_fill, later.peak_fill),
        )


class Attachment:
    """One port being read. Counters are each written by one thread only."""

    def __init__(self, port: OpenPort, sink: Sink, queue_bytes: int) -> None:
        self.port = port
        self.sink = sink
        self.stopped = threading.Event()
        self.thread: threading.Thread | None = None
        self.fd: int | None = None
        self.told: Callable[[bytes], bytes] | None = getattr(port, "told", None)
        self.wait_s: float = getattr(port, "wait_s", READ_TIMEOUT_S)
        self.detached = False
        self.emptied_ns = 0
        """When the port was last known to hold nothing; `left`: it may have held more after that."""
        self.left = False
        self._limit = queue_bytes
        self._bytes_in = self._bytes_lost = self._peak = self._lost_now = 0
        self._bytes_out = 0

    def statistics(self) -> ReaderStatistics:
        """A snapshot."""
        return ReaderStatistics(self._bytes_in, self._bytes_lost, self._peak)

    def admit(self, size: int) -> bool:
        """Reading thread: whether `size` bytes more may wait; counted as lost where not."""
        self._bytes_in += size
        fill = self._bytes_in - self._bytes_lost - self._bytes_out
        if fill > self._limit:
            self._bytes_lost += size
            self._lost_now += size
            return False
        self._peak = max(self._peak, fill)
        return True

    def lost_before(self) -> int:
        """Reading thread: bytes dropped since this was last asked."""
        lost, self._lost_now = self._lost_now, 0
        return lost

    def handed_over(self, size: int) -> None:
        """Loop: `size` bytes wait no longer."""
        self._bytes_out += size


class Reader(Protocol):
    """What reads ports: PortReader, or what several gauges share (drivers.sharing)."""

    def attach(self, port: OpenPort, sink: Sink) -> Attachment:
        """Read `port` from now on; what comes goes to `sink`, in the loop's thread."""

    async def detach(self, attachment: Attachment) -> None:
        """Read it no more. Afterwards its sink is not called again and it may be closed."""


_Piece = tuple[Attachment, bytes, int, int, int, str | None]
"""attachment, data, time_ns, since_ns, bytes lost before it, reason of the end or None."""


class PortReader:
    """The reading threads of one daemon. An async context manager; use it within one loop.

    queue_bytes: how much of one port may wait for a busy loop before bytes are dropped, counted.
    handed_over: called on the loop after each batch of pieces that went to their sinks.
    """

    handed_over: Callable[[], None] = staticmethod(lambda: None)

    def __init__(self, clock: Monotonic, *, queue_bytes: int = 1 << 20) -> None:
        self._now_ns = clock.monotonic_ns
        self._queue_bytes = queue_bytes
        self._queue: deque[_Piece] = deque()
        self._scheduled = False
        # Used as they are: `selectors` costs a quarter of this thread's time.
        self._ports, self._guarded = select.epoll(), select.epoll()
        self._attached: dict[int, Attachment] = {}
        self._looking = threading.Lock()
        self._looked_ns = 0
        """When it was last looked at all ports: what comes to light at the next look came after it."""
        self._loop: TurnsLoop | None = None
        self._is_armed = True
        # Woken by this, the loop takes half as long for a piece as by `call_soon_threadsafe`.
        self._ready = os.eventfd(0, os.EFD_NONBLOCK | os.EFD_CLOEXEC)
        self._stopping = False
        self._thread = threading.Thread(target=self._run, name="port reader", daemon=True)

    async def __aenter__(self) -> Self:
        loop = asyncio.get_running_loop()
        loop.add_reader(self._ready, self._drain)
        self._looked_ns = self._now_ns()
        self._guarded.register(self._ports, select.EPOLLIN)
        if isinstance(loop, TurnsLoop):
            self._loop = loop
            loop.waiting.register(self._ports, selectors.EVENT_READ)
            loop.waiting.rests, loop.waiting.woke = self._loop_rests, self._loop_woke
        self._thread.start()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._loop is not None:
            del self._loop.waiting.rests, self._loop.waiting.woke
            self._loop.waiting.unregister(self._ports)
        self._stopping = True
        await asyncio.to_thread(self._thread.join)
        asyncio.get_running_loop().remove_reader(self._ready)
        self._ports.close()
        self._guarded.close()
        os.close(self._ready)

    def attach(self, port: OpenPort, sink: Sink) -> Attachment:
        """Read `port` from now on; what comes goes to `sink`, in the loop's thread."""
        attachment = Attachment(port, sink, self._queue_bytes)
        try:
            attachment.fd = port.fileno()
        except (OSError, AttributeError):
            attachment.thread = threading.Thread(
                target=self._run_alone, args=(attachment,), name="port reader (own)", daemon=True
            )
            attachment.thread.start()
        else:
            self._register(attachment, attachment.fd)
        return attachment

    async def detach(self, attachment: Attachment) -> None:
        """Read it no more. Afterwards its sink is not called again and it may be closed."""
        attachment.detached = True
        attachment.stopped.set()
        if attachment.thread is not None:
            await asyncio.to_thread(attachment.thread.join)
            return
        with self._looking:
            self._unregister(attachment)

    def _register(self, attachment: Attachment, fd: int) -> None:
        attachment.emptied_ns = self._now_ns()
        with self._looking:
            try:
                self._ports.register(fd, select.EPOLLIN)
                self._attached[fd] = attachment
                return
            except (OSError, ValueError) as error:
                self._put((attachment, b"", 0, 0, 0, f"it cannot be waited on ({error})"))
        self._wake_loop()

    def _unregister(self, attachment: Attachment) -> None:
        if attachment.fd is not None and self._attached.get(attachment.fd) is attachment:
            del self._attached[attachment.fd]
            with contextlib.suppress(ValueError, OSError):  # closed already, it is gone of itself
                self._ports.unregister(attachment.fd)

    # -- who looks: the thread while the loop is busy, and every POLL_S; the loop as soon as it wakes, where
    #    it tells of its turns. One at a time, so that a port's bytes keep their order.

    def _run(self) -> None:
        while not self._stopping:
            self._guarded.poll(POLL_S, 1)
            self._look()
            if self._queue:
                self._wake_loop()

    def _loop_rests(self) -> None:
        self._guarded.modify(self._ports, 0)
        self._is_armed = False

    def _loop_woke(self) -> None:
        self._look()
        if not self._is_armed:
            self._guarded.modify(self._ports, select.EPOLLIN)
            self._is_armed = True
        if self._queue and not self._scheduled and self._loop is not None:
            self._scheduled = True
            self._loop.call_soon(self._pass_on)

    def _look(self) -> None:
        with self._looking:
            # Before looking: a port at which nothing is seen was empty after that.
            ready_ns = self._now_ns()
            found = self._ports.poll(0, PORTS_MAX)
            for fd, _ in found:
                if (attachment := self._attached.get(fd)) is not None:
                    self._read(fd, attachment, ready_ns)
            if len(found) < PORTS_MAX:
                self._looked_ns = ready_ns

    def _read(self, fd: int, attachment: Attachment, ready_ns: int) -> None:
        try:
            data = os.read(fd, READ_BYTES)
            time_ns = self._now_ns()
            said = attachment.told(data) if data and attachment.told is not None else data
        except BlockingIOError:
            return
        except Exception as error:  # whatever it is, it ends this port and no other
            reason = f"it went away ({error.strerror if isinstance(error, OSError) else error})"
        else:
            if data:
                since_ns = attachment.emptied_ns
                if not attachment.left:
                    since_ns = max(since_ns, self._looked_ns)
                attachment.left = len(data) >= PAGE_BYTES
                if not attachment.left:
                    attachment.emptied_ns = ready_ns
                if said:
                    self._deliver(attachment, said, time_ns, since_ns)
                return
            reason = "its far side closed it"
        self._unregister(attachment)
        self._put((attachment, b"", 0, 0, attachment.lost_before(), reason))

    def _run_alone(self, attachment: Attachment) -> None:
        port = attachment.port
        try:
            before_ns = began_ns = self._now_ns()
            # It waits longer than the other thread: only what is late beyond that is known to be.
            prompt_ns = (2 * attachment.wait_s + LATE_S) * 1e9
            while not attachment.stopped.is_set():
                data = port.read(max(1, port.in_waiting))
                now_ns = self._now_ns()
                if data:
                    late = now_ns - before_ns > prompt_ns
                    self._deliver(attachment, data, now_ns, before_ns if late else now_ns)
                    self._wake_loop()
                before_ns, began_ns = began_ns, now_ns
        except Exception as error:  # whatever a port that we do not know may raise ends it
            self._put((attachment, b"", 0, 0, attachment.lost_before(), f"it went away ({error})"))
            self._wake_loop()

    def _deliver(self, attachment: Attachment, data: bytes, time_ns: int, since_ns: int) -> None:
        if attachment.admit(len(data)):
            self._put((attachment, data, time_ns, since_ns, attachment.lost_before(), None))

    def _put(self, piece: _Piece) -> None:
        self._queue.append(piece)

    def _wake_loop(self) -> None:
        if not self._scheduled and not self._stopping:
            self._scheduled = True
            os.eventfd_write(self._ready, 1)

    def _drain(self) -> None:
        os.eventfd_read(self._ready)
        self._pass_on()

    def _pass_on(self) -> None:
        try:
            self._hand_over()
        finally:
            self.handed_over()

    def _hand_over(self) -> None:
        # First the flag, then the queue: a piece put in between asks for another drain.
        self._scheduled = False
        size = 0
        while self._queue:
            attachment, data, time_ns, since_ns, lost, reason = self._queue.popleft()
            attachment.handed_over(len(data))
            if attachment.detached:
                continue
            if data or lost:
                attachment.sink.take(data, time_ns, since_ns, lost)
            if reason is not None:
                attachment.sink.ended(reason)
            size += len(data)
            if size >= BATCH_BYTES and self._queue:
                self._wake_loop()
                return
