"""Instruments on ports in memory, in virtual time: the drivers' own `Instrument`, no thread and no wait."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import Executor, Future
from typing import Any
from unittest.mock import patch

from config.bay import BayFiles
from config.profile import PortSettings
from drivers.errors import PortAbsentError
from drivers.instrument import Instrument
from drivers.reader import Attachment, PortReader, Sink
from drivers.reading import Reading
from drivers.state import GaugeState
from drivers.transports import OpenPort
from tests.acquire.hand_clock import HandClock

# Turns of the loop in which an instrument gets from any change to its next wait, for a time or a byte.
TURNS_TO_REST = 12


class VirtualLoop(asyncio.SelectorEventLoop):
    """A loop whose timers are due when the clock that it is given says so."""

    def __init__(self, clock: HandClock) -> None:
        self._hand = clock
        super().__init__()

    def time(self) -> float:
        return self._hand.monotonic_ns() / 1e9

    def rest(self) -> None:
        """Run what is due, until nothing is."""
        self.run_until_complete(_turns())


async def _turns() -> None:
    for _ in range(TURNS_TO_REST):
        await asyncio.sleep(0)


class AtOnce(Executor):
    """Does everything where it is asked, so that opening a port takes no time."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        done: Future[Any] = Future()
        try:
            done.set_result(fn(*args, **kwargs))
        except Exception as error:
            done.set_exception(error)
        return done


class MemoryPort:
    """A port that nobody waits on: the far side hands its bytes over."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.in_waiting = 0

    def fileno(self) -> int:
        raise OSError("no descriptor")

    def read(self, size: int = 1, /) -> bytes:
        return b""

    def write(self, data: bytes, /) -> int:
        return len(data)

    def close(self) -> None:
        pass


class MemoryReader(PortReader):
    """Hands bytes over as if the reading threads had stamped and delivered them in that moment."""

    def __init__(self) -> None:
        self._sinks: dict[str, Sink] = {}

    def attach(self, port: OpenPort, sink: Sink) -> Attachment:
        assert isinstance(port, MemoryPort)
        self._sinks[port.name] = sink
        return Attachment(port, sink, 1 << 20)

    async def detach(self, attachment: Attachment) -> None:
        assert isinstance(attachment.port, MemoryPort)
        del self._sinks[attachment.port.name]

    def send(self, name: str, data: bytes, time_ns: int) -> None:
        """Bytes come on a port; nobody hears them while it is not open."""
        sink = self._sinks.get(name)
        if sink is not None:
            sink.take(data, time_ns, since_ns=time_ns, lost=0)

    def cut(self, name: str) -> None:
        """The far side of a port goes away."""
        sink = self._sinks.get(name)
        if sink is not None:
            sink.ended("its far side is gone")


class Instruments:
    """Those gauges of a bay, at work; wind the clock with `at`, hand bytes over with `send`."""

    def __init__(
        self,
        files: BayFiles,
        gauges: set[str],
        clock: HandClock,
        on_reading: Callable[[Reading], None],
        on_state: Callable[[GaugeState], None],
    ) -> None:
        self._clock = clock
        self._loop = VirtualLoop(clock)
        self._reader = MemoryReader()
        self._away: set[str] = set()
        self._ports = {gauge.id: str(gauge.port) for gauge in files.settings.gauge if gauge.id in gauges}
        self._patch = patch("drivers.instrument.ThreadPoolExecutor", lambda *_, **__: AtOnce())
        self._patch.start()
        self._tasks = [
            self._loop.create_task(
                Instrument(
                    gauge,
                    files.profiles[gauge.id],
                    self._reader,
                    clock,
                    on_reading,
                    on_state,
                    opener=self._open,
                    finder=lambda settings: str(settings.port),
                ).run()
            )
            for gauge in files.settings.gauge
            if gauge.id in gauges
        ]
        self._loop.rest()

    def at(self, time_ns: int) -> None:
        """Time goes on to here; what the instruments wait for meanwhile comes due."""
        self._clock.advance_to(time_ns)
        self._loop.rest()

    def send(self, gauge: str, data: bytes, time_ns: int) -> None:
        """Bytes of a gauge."""
        self._clock.advance_to(time_ns)
        self._reader.send(self._ports[gauge], data, time_ns)

    def unplug(self, gauge: str) -> None:
        """Its port is gone."""
        self._away.add(self._ports[gauge])
        self._reader.cut(self._ports[gauge])
        self._loop.rest()

    def plug(self, gauge: str) -> None:
        """Its port is there again, to be found."""
        self._away.discard(self._ports[gauge])

    def close(self) -> None:
        """All end."""
        for task in self._tasks:
            task.cancel()
        self._loop.run_until_complete(asyncio.wait(self._tasks))
        self._patch.stop()
        self._loop.close()

    def _open(self, name: str, settings: PortSettings) -> OpenPort:
        if name in self._away:
            raise PortAbsentError(f"{name} is not there: plug the gauge in")
        return MemoryPort(name)
