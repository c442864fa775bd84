"""Instruments on ports in memory, in virtual time: the drivers' own `Instrument`, no thread and no wait."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from config.bay import BayFiles
from config.profile import PortSettings
from drivers.errors import PortAbsentError
from drivers.instrument import Instrument
from drivers.reading import Reading
from drivers.state import GaugeState
from drivers.transports import OpenPort
from simulators.loop import VirtualLoop
from simulators.memory import AtOnce, MemoryPort, MemoryReader
from tests.acquire.hand_clock import HandClock

# Turns of the loop in which an instrument gets from any change to its next wait, for a time or a byte.
TURNS_TO_REST = 12


async def _turns() -> None:
    for _ in range(TURNS_TO_REST):
        await asyncio.sleep(0)


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
                    finder=lambda settings, _: str(settings.port),
                    thread=lambda _: AtOnce(),
                ).run()
            )
            for gauge in files.settings.gauge
            if gauge.id in gauges
        ]
        self._rest()

    def at(self, time_ns: int) -> None:
        """Time goes on to here; what the instruments wait for meanwhile comes due."""
        self._clock.advance_to(time_ns)
        self._rest()

    def send(self, gauge: str, data: bytes, time_ns: int) -> None:
        """Bytes of a gauge."""
        self._clock.advance_to(time_ns)
        self._reader.send(self._ports[gauge], data, time_ns)

    def unplug(self, gauge: str) -> None:
        """Its port is gone."""
        self._away.add(self._ports[gauge])
        self._reader.cut(self._ports[gauge])
        self._rest()

    def plug(self, gauge: str) -> None:
        """Its port is there again, to be found."""
        self._away.discard(self._ports[gauge])

    def close(self) -> None:
        """All end."""
        for task in self._tasks:
            task.cancel()
        self._loop.run_until_complete(asyncio.wait(self._tasks))
        self._loop.close()

    def _rest(self) -> None:
        """Run what is due, until nothing is."""
        self._loop.run_until_complete(_turns())

    def _open(self, name: str, settings: PortSettings) -> OpenPort:
        if name in self._away:
            raise PortAbsentError(f"{name} is not there: plug the gauge in")
        return MemoryPort(name)
