from __future__ import annotations

import asyncio
import os
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from acquire.clock import RealClock
from config.profile import SerialPort
from drivers.reader import Attachment, PortReader
from drivers.transports import close_port, open_port
from drivers.turns import TurnsLoop
from simulators.port import PtyPort
from tests.drivers.support import PATIENCE_S, MemoryPort, wait_until


class WatchedClock:
    """A clock wound by hand that knows who has looked at it."""

    def __init__(self) -> None:
        self.now_ns = 0
        self.lookers: set[int] = set()

    def monotonic_ns(self) -> int:
        now_ns = self.now_ns
        self.lookers.add(threading.get_ident())
        return now_ns


def wait_read(attachment: Attachment, size: int) -> None:
    """Blocks whoever calls, the loop included, until so many bytes have been read, and stamped."""
    wait_until(lambda: attachment.statistics().bytes_in >= size)


class Collected:
    def __init__(self) -> None:
        self.pieces: list[tuple[bytes, int, int]] = []
        self.since: list[int] = []
        self.reasons: list[str] = []
        self.calls_in = threading.get_ident()
        self._news = asyncio.Event()

    def take(self, data: bytes, time_ns: int, since_ns: int, lost: int) -> None:
        assert threading.get_ident() == self.calls_in
        self.since.append(since_ns)
        self.pieces.append((data, time_ns, lost))
        self._news.set()

    def ended(self, reason: str) -> None:
        assert threading.get_ident() == self.calls_in
        self.reasons.append(reason)
        self._news.set()

    @property
    def data(self) -> bytes:
        return b"".join(data for data, _, _ in self.pieces)

    async def until(self, condition: Callable[[], bool]) -> None:
        async with asyncio.timeout(PATIENCE_S):
            while not condition():
                self._news.clear()
                await self._news.wait()


class Pipe:
    """A descriptor to read from; quicker than a pseudo-terminal and keeps what is written apart."""

    def __init__(self) -> None:
        self._read, self.write_fd = os.pipe()
        os.set_blocking(self._read, False)

    def fileno(self) -> int:
        return self._read

    in_waiting = 0

    def read(self, size: int = 1, /) -> bytes:
        raise NotImplementedError

    def write(self, data: bytes, /) -> int:
        raise NotImplementedError

    def send(self, data: bytes) -> None:
        os.write(self.write_fd, data)

    def close(self) -> None:
        os.close(self._read)
        os.close(self.write_fd)


async def test_stamps_are_taken_while_the_loop_is_busy() -> None:
    clock, sink, pipe = WatchedClock(), Collected(), Pipe()
    async with PortReader(clock) as reader:
        attachment = reader.attach(pipe, sink)
        # From here to the next await the loop is busy: it cannot have stamped anything.
        clock.lookers.clear()
        for n, time_ns in enumerate((1000, 2000, 3000), 1):
            clock.now_ns = time_ns
            pipe.send(b"frame\r")
            wait_read(attachment, 6 * n)
        clock.now_ns = 9000
        assert sink.pieces == []
        assert threading.get_ident() not in clock.lookers
        await sink.until(lambda: len(sink.pieces) == 3)
        assert sink.pieces == [(b"frame\r", time_ns, 0) for time_ns in (1000, 2000, 3000)]
        await reader.detach(attachment)
    pipe.close()


async def test_so_are_those_of_a_port_without_a_descriptor() -> None:
    clock, sink, port = WatchedClock(), Collected(), MemoryPort()
    async with PortReader(clock) as reader:
        attachment = reader.attach(port, sink)
        clock.now_ns = 1000
        port.come.put(b"frame\r")
        wait_read(attachment, 6)
        clock.now_ns = 9000
        await sink.until(lambda: bool(sink.pieces))
        assert sink.pieces == [(b"frame\r", 1000, 0)]
        await reader.detach(attachment)


class HeldClock:
    """The machine's clock; whoever looks at it while it is held is kept waiting, and late."""

    def __init__(self) -> None:
        self.free = threading.Event()
        self.free.set()
        self.waiting = threading.Event()

    def monotonic_ns(self) -> int:
        if not self.free.is_set():
            self.waiting.set()
            assert self.free.wait(PATIENCE_S)
        return time.monotonic_ns()


async def test_a_thread_that_was_held_up_tells_since_when_its_port_was_empty() -> None:
    clock, sink, pipe = HeldClock(), Collected(), Pipe()
    async with PortReader(clock) as reader:
        attachment = reader.attach(pipe, sink)
        pipe.send(b"frame\r")
        await sink.until(lambda: len(sink.pieces) == 1)
        clock.free.clear()
        assert clock.waiting.wait(PATIENCE_S)
        begin_ns = time.monotonic_ns()
        pipe.send(b"frame\rframe\r")
        sent_ns = time.monotonic_ns()
        wait_until(lambda: time.monotonic_ns() >= sent_ns + 50_000_000)
        clock.free.set()
        await sink.until(lambda: sink.data == b"frame\r" * 3)
        await reader.detach(attachment)
    pipe.close()
    assert sink.since[1] <= begin_ns < sent_ns <= sink.pieces[1][1] - 50_000_000
    assert begin_ns - sink.since[1] < 1e9


async def test_what_a_busy_loop_leaves_lying_is_bounded_and_the_rest_counted() -> None:
    clock, sink, pipe = WatchedClock(), Collected(), Pipe()
    async with PortReader(clock, queue_bytes=100) as reader:
        attachment = reader.attach(pipe, sink)
        for n in range(1, 6):
            pipe.send(b"x" * 40)
            wait_read(attachment, 40 * n)
        wait_until(lambda: attachment.statistics().bytes_lost == 120)
        await sink.until(lambda: len(sink.pieces) == 2)
        pipe.send(b"y" * 10)
        await sink.until(lambda: len(sink.pieces) == 3)
        assert [(len(data), lost) for data, _, lost in sink.pieces] == [(40, 0), (40, 0), (10, 120)]
        statistics = attachment.statistics()
        assert (statistics.bytes_in, statistics.bytes_lost, statistics.peak_fill) == (210, 120, 80)
        await reader.detach(attachment)
    pipe.close()


async def test_one_call_into_the_loop_brings_all_that_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    clock, sink, pipe = WatchedClock(), Collected(), Pipe()
    calls: list[object] = []
    loop = asyncio.get_running_loop()
    real = loop.call_soon_threadsafe

    def counted(call: Callable[..., object], *arguments: object) -> asyncio.Handle:
        calls.append(call)
        return real(call, *arguments)

    async with PortReader(clock) as reader:
        attachment = reader.attach(pipe, sink)
        with monkeypatch.context() as patch:
            patch.setattr(loop, "call_soon_threadsafe", counted)
            for n in range(1, 51):
                pipe.send(b"frame\r")
                wait_read(attachment, 6 * n)
            await sink.until(lambda: len(sink.pieces) == 50)
        assert len(calls) <= 2  # the last piece may come by itself
        await reader.detach(attachment)
    pipe.close()


async def test_many_ports_at_once_and_big_batches() -> None:
    sinks = [Collected() for _ in range(8)]
    pipes = [Pipe() for _ in sinks]
    sent = bytes(range(256)) * 200  # 51 200 bytes each: more than one batch in all
    async with PortReader(RealClock()) as reader:
        attachments = [reader.attach(pipe, sink) for pipe, sink in zip(pipes, sinks, strict=True)]
        for pipe in pipes:
            pipe.send(sent)
        for sink in sinks:
            # A default binds the loop variable.
            await sink.until(lambda sink=sink: len(sink.data) == len(sent))  # type: ignore[misc]
            assert sink.data == sent
        for attachment in attachments:
            await reader.detach(attachment)
    for pipe in pipes:
        pipe.close()


async def test_what_came_before_the_end_comes_before_the_end(tmp_path: Path) -> None:
    sink, pty = Collected(), PtyPort(tmp_path / "gauge")
    pty.plug()
    async with PortReader(RealClock()) as reader:
        port = await asyncio.to_thread(open_port, str(pty.path), SerialPort())
        attachment = reader.attach(port, sink)
        pty.write(b"+000.190\r\n")
        await sink.until(lambda: sink.data == b"+000.190\r\n")
        pty.unplug()
        await sink.until(lambda: bool(sink.reasons))
        await reader.detach(attachment)
        close_port(port)
    assert len(sink.reasons) == 1


async def test_after_detaching_nothing_is_handed_over() -> None:
    clock, sink, pipe = WatchedClock(), Collected(), Pipe()
    async with PortReader(clock) as reader:
        attachment = reader.attach(pipe, sink)
        pipe.send(b"frame\r")
        wait_read(attachment, 6)
        await reader.detach(attachment)
        pipe.send(b"frame\r")
        # A second port shows that the reader is past the first.
        other_sink, other = Collected(), Pipe()
        other_attachment = reader.attach(other, other_sink)
        other.send(b"other\r")
        await other_sink.until(lambda: bool(other_sink.pieces))
        assert sink.pieces == []
        await reader.detach(other_attachment)
    for done in (pipe, other):
        done.close()


async def test_leaving_stops_the_thread_with_a_port_still_attached() -> None:
    pipe = Pipe()
    async with PortReader(RealClock()) as reader:
        attachment = reader.attach(pipe, Collected())
    await reader.detach(attachment)
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("port reader")]
    pipe.close()


async def test_a_descriptor_that_cannot_be_waited_on_ends_at_once(tmp_path: Path) -> None:
    sink, pipe = Collected(), Pipe()
    file = (tmp_path / "file").open("w+b")
    async with PortReader(RealClock()) as reader:
        pipe.fileno = file.fileno  # type: ignore[method-assign]  # put in its place for this test
        attachment = reader.attach(pipe, sink)
        await sink.until(lambda: bool(sink.reasons))
        assert "cannot be waited on" in sink.reasons[0]
        await reader.detach(attachment)
    file.close()
    pipe.close()


class Puzzling(Pipe):
    """Of what it says nobody can make sense."""

    def told(self, data: bytes) -> bytes:
        raise ValueError("no such report")


async def test_a_port_of_which_nobody_can_make_sense_ends_and_no_other_does() -> None:
    puzzled, puzzling, sink, pipe = Collected(), Puzzling(), Collected(), Pipe()
    async with PortReader(RealClock()) as reader:
        attachments = [reader.attach(puzzling, puzzled), reader.attach(pipe, sink)]
        puzzling.send(b"?")
        await puzzled.until(lambda: bool(puzzled.reasons))
        pipe.send(b"frame\r")
        await sink.until(lambda: sink.data == b"frame\r")
        for attachment in attachments:
            await reader.detach(attachment)
    assert puzzled.reasons == ["it went away (no such report)"]
    puzzling.close()
    pipe.close()


async def test_bytes_keep_their_order_where_loop_and_thread_read_by_turns() -> None:
    sink, pipe = Collected(), Pipe()
    async with PortReader(RealClock()) as reader:
        attachment = reader.attach(pipe, sink)
        sent = bytearray()

        def is_all() -> bool:
            return len(sink.data) == len(sent)

        for n in range(200):
            pipe.send(b"%06d" % n)
            sent += b"%06d" % n
            if n % 3 == 0:  # a busy loop: the thread has it
                wait_read(attachment, len(sent))
            elif n % 3 == 1:
                await sink.until(is_all)
        await sink.until(is_all)
        await reader.detach(attachment)
    pipe.close()
    assert sink.data == sent
    times = [time_ns for _, time_ns, _ in sink.pieces]
    assert times == sorted(times)
    assert all(since_ns <= time_ns for since_ns, time_ns in zip(sink.since, times, strict=True))


@pytest.mark.asyncio(loop_factories=["turns"])
async def test_a_loop_says_that_it_waits_and_that_it_woke_before_it_does_anything() -> None:
    loop, did, done = asyncio.get_running_loop(), list[str](), asyncio.Event()
    assert isinstance(loop, TurnsLoop)
    far, near = os.pipe()

    def work() -> None:
        did.append(os.read(far, 1).decode())
        done.set()

    loop.add_reader(far, work)
    loop.waiting.rests, loop.waiting.woke = (lambda: did.append("rests")), (lambda: did.append("woke"))
    await asyncio.sleep(0)  # with something to do it does not wait
    assert did == ["woke"]
    os.write(near, b"x")
    await done.wait()
    del loop.waiting.rests, loop.waiting.woke
    assert did[:4] == ["woke", "rests", "woke", "x"]
    loop.remove_reader(far)
    for fd in (far, near):
        os.close(fd)
