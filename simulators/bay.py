"""The far side of a bay on virtual time: what its gauges send, on lines that are cut, noisy or read late.

It keeps count of every frame, so that afterwards nothing can be lost uncounted.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, Protocol

from config.profile import PortSettings
from drivers.errors import PortAbsentError
from drivers.transports import OpenPort
from simulators.faults import NOISE_BYTES, Stream
from simulators.loop import VirtualLoop
from simulators.memory import MemoryPort, MemoryReader
from simulators.timeline import merged

# What a line does to the frames of a spell: nothing comes and the port is gone; noise before some frames;
# single bytes lost; frames cut short; frames read late, several at once.
Trouble = Literal["unplugged", "noisy", "lossy", "halved", "late"]
# Chance for each frame (lossy: for each byte) of a spell to be hit.
HIT = 0.25
BYTE_HIT = 0.02


class DaemonClock(Protocol):
    """What the daemon stamps with."""

    def monotonic_ns(self) -> int: ...


@dataclass(frozen=True, slots=True)
class Spell:
    """Trouble with one gauge's line from a time on until another, in the loop's nanoseconds."""

    gauge: str
    trouble: Trouble
    from_ns: int
    to_ns: int


@dataclass(frozen=True, slots=True)
class Frame:
    """One frame that a gauge sent whole. time_ns: as the daemon's clock had it. run: of which start of the
    daemon. whole: it came to an open port undamaged; late: it was not taken at once."""

    gauge: str
    run: int
    time_ns: int
    data: bytes
    whole: bool
    late: bool = False


@dataclass(slots=True)
class _Line:
    """One gauge's port."""

    port: str
    away: bool = False
    held: list[tuple[bytes, int]] = field(default_factory=list)
    since_ns: int = 0


class VirtualBay:
    """Sends the gauges' streams to whoever has their ports open. `play` as a task.

    ports: by gauge. reader, clock and run are the daemon's that runs now.
    """

    def __init__(
        self,
        loop: VirtualLoop,
        ports: Mapping[str, str],
        streams: Mapping[str, Stream],
        spells: Sequence[Spell],
        rng: random.Random,
    ) -> None:
        self._loop = loop
        self._lines = {gauge: _Line(port) for gauge, port in ports.items()}
        self._streams = streams
        self._spells = list(spells)
        self._rng = rng
        self.reader = MemoryReader()
        self.clock: DaemonClock
        self.run = 0
        self.frames: list[Frame] = []
        self.quiet = False

    def start(self, clock: DaemonClock) -> MemoryReader:
        """A daemon begins: its reader."""
        self.clock, self.reader, self.run = clock, MemoryReader(), self.run + 1
        for line in self._lines.values():
            line.held.clear()
        return self.reader

    def open(self, port: str, _: PortSettings) -> OpenPort:
        """For the daemon. Raises PortAbsentError while the gauge is unplugged."""
        if any(line.port == port and line.away for line in self._lines.values()):
            raise PortAbsentError(f"{port} is not there: plug the gauge in")
        return MemoryPort(port)

    def heal(self) -> None:
        """No trouble from now on."""
        self._spells.clear()
        for gauge, line in self._lines.items():
            line.away = False
            self._let_in(gauge)

    async def play(self) -> None:
        """For ever."""
        for time_ns, gauge, data in merged(self._streams):
            await self._loop.until(time_ns)
            if not self.quiet:
                self._send(gauge, data, time_ns)

    async def plug(self) -> None:
        """Pull cables and put them back, in time, until none is left to be."""
        changes = [
            (time_ns, n, goes)
            for n, spell in enumerate(self._spells)
            if spell.trouble == "unplugged"
            for time_ns, goes in ((spell.from_ns, True), (spell.to_ns, False))
        ]
        spells = list(self._spells)
        for time_ns, n, goes in sorted(changes):
            await self._loop.until(time_ns)
            if spells[n] not in self._spells:
                continue
            line = self._lines[spells[n].gauge]
            line.away = goes
            if goes:
                line.held.clear()
                self.reader.cut(line.port)

    def _send(self, gauge: str, data: bytes, time_ns: int) -> None:
        line = self._lines[gauge]
        trouble = self._trouble(gauge, time_ns)
        came_ns = self.clock.monotonic_ns()
        if trouble != "late":
            self._let_in(gauge)
        heard = not line.away and self.reader.is_heard(line.port)
        if not heard:
            return
        if trouble == "late":
            if not line.held:
                line.since_ns = came_ns - 1
            line.held.append((data, came_ns))
            self._note(gauge, data, came_ns, late=True)
            if self._rng.random() < HIT:
                self._let_in(gauge)
            return
        bytes_in = self._damaged(data, trouble)
        self._note(gauge, data, came_ns, whole=bytes_in == data)
        self.reader.send(line.port, bytes_in, came_ns)

    def _let_in(self, gauge: str) -> None:
        """What a held-up reader had not taken yet."""
        line = self._lines[gauge]
        if line.held:
            data, now_ns = b"".join(data for data, _ in line.held), self.clock.monotonic_ns()
            line.held.clear()
            self.reader.send(line.port, data, now_ns, line.since_ns)

    def _damaged(self, data: bytes, trouble: Trouble | None) -> bytes:
        rng = self._rng
        if trouble == "noisy" and rng.random() < HIT:
            return bytes(rng.choice(NOISE_BYTES) for _ in range(rng.randint(1, 12))) + data
        if trouble == "halved" and rng.random() < HIT:
            return data[: rng.randint(1, len(data) - 1)]
        if trouble == "lossy":
            return bytes(byte for byte in data if rng.random() >= BYTE_HIT)
        return data

    def _note(self, gauge: str, data: bytes, time_ns: int, *, whole: bool = True, late: bool = False) -> None:
        self.frames.append(Frame(gauge, self.run, time_ns, data, whole, late))

    def _trouble(self, gauge: str, time_ns: int) -> Trouble | None:
        found: Iterable[Spell] = (
            spell for spell in self._spells if spell.gauge == gauge and spell.from_ns <= time_ns < spell.to_ns
        )
        return next((spell.trouble for spell in found), None)
