"""What the tests of the drivers share: profiles, a listener, and the far sides of lines and ports."""

from __future__ import annotations

import asyncio
import contextlib
import queue
import threading
import time
from collections.abc import AsyncIterator, Callable
from functools import partial
from pathlib import Path
from typing import Any, Protocol, get_args

import serial
from serial.rfc2217 import PortManager

from acquire.clock import RealClock
from config.files import shipped
from config.profile import FreeRunning, GaugeProfile, PlainDevice, PortSettings, Requested
from config.settings import GaugeSettings
from config.toml import read_toml
from drivers.errors import PortAbsentError
from drivers.instrument import Instrument
from drivers.reader import PortReader
from drivers.reading import Reading
from drivers.state import GaugeState, PortState
from drivers.transports import READ_TIMEOUT_S, OpenPort, open_port
from simulators.port import PtyPort

# Far longer than anything awaited takes; only a failing test waits so long.
PATIENCE_S = 10.0


def profile(name: str) -> GaugeProfile:
    return read_toml(shipped("gauges", name), GaugeProfile)


def free_running(period_s: float = 30.0, name: str = "line-mm") -> GaugeProfile:
    """A shipped profile with another period; by default one that is never silent in a test."""
    return profile(name).model_copy(update={"manner": FreeRunning(kind="free-running", period_s=period_s)})


def requested(period_s: float = 0.05, timeout_s: float = 0.2) -> GaugeProfile:
    manner = Requested(kind="requested", request="read\r", period_s=period_s, timeout_s=timeout_s)
    return profile("line-requested-mm").model_copy(update={"manner": manner})


def settings(port: str = "memory", **more: Any) -> GaugeSettings:
    place = {} if "usb" in more else {"port": port}
    return GaugeSettings.model_validate(
        {"id": "indicator-1", "profile": "line-mm", "resolution_mm": 0.001, "mpe_mm": 0.004} | place | more
    )


def members(union: Any) -> set[type]:
    """The models of an annotated union of a profile."""
    return set(get_args(get_args(union)[0]))


def wait_until(condition: Callable[[], bool]) -> None:
    """Blocks the loop, on purpose, until a reading thread has got somewhere."""
    give_up = time.monotonic() + PATIENCE_S
    while not condition():
        assert time.monotonic() < give_up
        time.sleep(0.001)


class Heard:
    """Keeps what an instrument tells, and waits for it."""

    def __init__(self) -> None:
        self.readings: list[Reading] = []
        self.states: list[GaugeState] = []
        self._news = asyncio.Event()

    def on_reading(self, reading: Reading) -> None:
        self.readings.append(reading)
        self._news.set()

    def on_state(self, state: GaugeState) -> None:
        self.states.append(state)
        self._news.set()

    @property
    def passed(self) -> list[PortState]:
        """The states told, in order."""
        return [told.state for told in self.states]

    @property
    def values(self) -> list[int]:
        return [reading.value for reading in self.readings]

    async def until(self, condition: Callable[[], bool], patience_s: float = PATIENCE_S) -> None:
        async with asyncio.timeout(patience_s):
            while not condition():
                self._news.clear()
                await self._news.wait()

    async def until_state(self, *wanted: PortState, patience_s: float = PATIENCE_S) -> GaugeState:
        await self.until(lambda: bool(self.states) and self.states[-1].state in wanted, patience_s)
        return self.states[-1]

    async def until_readings(self, number: int) -> None:
        await self.until(lambda: len(self.readings) >= number)


@contextlib.asynccontextmanager
async def running(
    gauge: GaugeSettings, kind: GaugeProfile, heard: Heard, **more: Any
) -> AsyncIterator[Instrument]:
    """An instrument at work, with a reader of its own."""
    clock = RealClock()
    async with PortReader(clock) as reader:
        instrument = Instrument(gauge, kind, reader, clock, heard.on_reading, heard.on_state, **more)
        async with at_work(instrument):
            yield instrument


@contextlib.asynccontextmanager
async def at_work(instrument: Instrument) -> AsyncIterator[None]:
    task = asyncio.create_task(instrument.run())
    try:
        yield
    finally:
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await task


class FarSide(Protocol):
    """The instrument's end of a transport."""

    @property
    def port(self) -> str: ...

    def suited(self, kind: GaugeProfile) -> GaugeProfile:
        """The profile as a gauge on this line would have it."""

    def opener(self, url: str, port_settings: PortSettings) -> OpenPort: ...

    async def plug(self) -> None: ...

    async def unplug(self) -> None: ...

    async def ready(self) -> None:
        """Returns once what is sent will arrive."""

    def send(self, data: bytes) -> None: ...

    async def asked(self, size: int) -> bytes:
        """The next `size` bytes that the near side wrote."""


class LineFarSide:
    """A line that carries any bytes."""

    def suited(self, kind: GaugeProfile) -> GaugeProfile:
        return kind


class PtyFarSide(LineFarSide):
    def __init__(self, folder: Path) -> None:
        self.port = str(folder / "gauge")
        self.pty = PtyPort(folder / "gauge")

    def opener(self, url: str, port_settings: PortSettings) -> OpenPort:
        return open_port(url, port_settings)

    async def plug(self) -> None:
        self.pty.plug()

    async def unplug(self) -> None:
        self.pty.unplug()

    async def ready(self) -> None:
        return

    def send(self, data: bytes) -> None:
        self.pty.write(data)

    async def asked(self, size: int) -> bytes:
        loop, found, asked = asyncio.get_running_loop(), asyncio.Event(), b""
        loop.add_reader(self.pty.fileno(), found.set)
        try:
            while len(asked) < size:
                found.clear()
                await found.wait()
                asked += self.pty.read()
        finally:
            loop.remove_reader(self.pty.fileno())
        return asked


class PlainFarSide(PtyFarSide):
    """A device that is read as it stands."""

    def opener(self, url: str, port_settings: PortSettings) -> OpenPort:
        return open_port(url, PlainDevice(kind="plain"))


class SocketFarSide(LineFarSide):
    scheme = "socket"

    def __init__(self) -> None:
        self._server: asyncio.Server | None = None
        self._number = 0
        self._connection: asyncio.StreamWriter | None = None
        self._connected = asyncio.Event()
        self._asked = asyncio.StreamReader()

    @property
    def port(self) -> str:
        return f"{self.scheme}://127.0.0.1:{self._number}"

    def opener(self, url: str, port_settings: PortSettings) -> OpenPort:
        return open_port(url, port_settings)

    async def plug(self) -> None:
        self._server = await asyncio.start_server(self._serve, "127.0.0.1", self._number)
        self._number = self._server.sockets[0].getsockname()[1]

    async def unplug(self) -> None:
        assert self._server is not None
        self._server.close()
        if self._connection is not None:
            self._connection.close()
            await self._connection.wait_closed()
        await self._server.wait_closed()
        self._connected.clear()

    async def ready(self) -> None:
        await self._connected.wait()

    def send(self, data: bytes) -> None:
        assert self._connection is not None
        self._connection.write(data)

    async def asked(self, size: int) -> bytes:
        return await self._asked.readexactly(size)

    def greet(self) -> Callable[[bytes], bytes]:
        """Begins a connection; gives what to do with the bytes that come on it."""
        self._connected.set()
        return lambda data: data

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._connection = writer
        strip = self.greet()
        with contextlib.suppress(OSError):
            while data := await reader.read(4096):
                if stripped := strip(data):
                    self._asked.feed_data(stripped)
        with contextlib.suppress(OSError):
            writer.close()
            await writer.wait_closed()


class Rfc2217FarSide(SocketFarSide):
    """With pyserial's own server class."""

    scheme = "rfc2217"

    def greet(self) -> Callable[[bytes], bytes]:
        assert self._connection is not None
        backing = serial.serial_for_url("loop://")
        self._manager = manager = PortManager(backing, self._connection)
        self._connected.set()
        return lambda data: b"".join(manager.filter(data))

    def send(self, data: bytes) -> None:
        super().send(b"".join(self._manager.escape(data)))


class MemoryPort:
    """A port without a descriptor, in memory; what is written to it goes to `on_write`."""

    def __init__(self, on_write: Callable[[bytes], object] = lambda data: None) -> None:
        self.come: queue.Queue[bytes | Exception] = queue.Queue()
        self.closed = threading.Event()
        self._on_write = on_write

    @property
    def in_waiting(self) -> int:
        return 0

    def fileno(self) -> int:
        raise OSError("no descriptor")

    def read(self, size: int = 1, /) -> bytes:
        try:
            piece = self.come.get(timeout=READ_TIMEOUT_S)
        except queue.Empty:
            return b""
        if isinstance(piece, Exception):
            raise piece
        return piece

    def write(self, data: bytes, /) -> int:
        self._on_write(data)
        return len(data)

    def close(self) -> None:
        self.closed.set()


class MemoryFarSide(LineFarSide):
    port = "memory://"

    def __init__(self) -> None:
        self._loop = asyncio.get_running_loop()
        self.plugged = False
        self._asked = asyncio.StreamReader()
        self.opened: list[MemoryPort] = []

    def opener(self, url: str, port_settings: PortSettings) -> OpenPort:
        if not self.plugged:
            raise PortAbsentError(f"{url} is not there: plug the gauge in")
        self.opened.append(
            MemoryPort(lambda data: self._loop.call_soon_threadsafe(partial(self._asked.feed_data, data)))
        )
        return self.opened[-1]

    async def plug(self) -> None:
        self.plugged = True

    async def unplug(self) -> None:
        self.plugged = False
        self.opened[-1].come.put(OSError("pulled out"))

    async def ready(self) -> None:
        return

    def send(self, data: bytes) -> None:
        self.opened[-1].come.put(data)

    async def asked(self, size: int) -> bytes:
        return await self._asked.readexactly(size)
