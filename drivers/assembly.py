"""Stamped bytes to readings: framing, decoding, numbering and the stated latency, without a port.

Pure as a framer is, so a whole sweep runs through it in virtual time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from config.profile import GaugeProfile
from drivers.arrival import Arrivals
from drivers.errors import FrameError
from drivers.framings import framer
from drivers.manners import behaviour
from drivers.reading import Reading
from drivers.values import codec


@dataclass(frozen=True, slots=True)
class AssemblyStatistics:
    """What came and what became of it, since the assembler was made.

    frames: whole ones = readings + rejected. overlong, halves, bytes_discarded: as the framer
    counts them. bytes_lost: dropped before they got here because a queue was full.
    """

    frames: int
    readings: int
    rejected: int
    overlong: int
    halves: int
    bytes_in: int
    bytes_discarded: int
    bytes_lost: int


class Assembler:
    """Makes the readings of one instrument out of stamped bytes.

    A gauge that sends by itself may be heard from the middle of a frame on, so all up to the first
    whole frame is thrown away; one that sends when asked or pressed is quiet when its port opens.
    """

    def __init__(self, gauge: str, profile: GaugeProfile) -> None:
        self._gauge = gauge
        of_itself = behaviour(profile.manner).of_itself
        self._framer = framer(profile.framing, hunting=of_itself)
        self._codec = codec(profile.value, gauge)
        self._latency_ns = profile.latency_ns
        self._arrivals = Arrivals(even=of_itself)
        self._seq = self._readings = self._rejected = self._framer_lost = self._bytes_lost = 0
        self._at_index = False
        self.last_rejected: bytes | None = None

    def feed(self, data: bytes, time_ns: int, since_ns: int | None = None) -> list[Reading]:
        """The readings that `data`, whose last byte came at `time_ns`, completes.

        since_ns: the data came after it, and by time_ns (drivers.arrival); None: at time_ns.
        """
        pieces = self._framer.split(data, time_ns)
        if self._framer.lost != self._framer_lost:
            self._number_lost_frames()
        if not pieces:
            return []
        readings: list[Reading] = []
        gauge, unit, value, add = self._gauge, self._codec.unit, self._codec.value, readings.append
        seq, latency_ns = self._seq, self._latency_ns
        times, u_ns = self._arrivals.of(len(pieces), time_ns if since_ns is None else since_ns, time_ns)
        for piece, came_ns in zip(pieces, times, strict=True):
            try:
                add(Reading(gauge, seq, came_ns - latency_ns, value(piece), unit, u_ns))
            except FrameError:
                self._rejected += 1
                self.last_rejected = piece
            seq += 1
        if self._codec.has_index:
            readings = self._with_index(pieces, readings)
        self._seq = seq
        self._readings += len(readings)
        return readings

    def _with_index(self, pieces: list[bytes], readings: list[Reading]) -> list[Reading]:
        """The same, told of the index that comes: where the frame before did not say so."""
        told = []
        by_number = {reading.seq: reading for reading in readings}
        for number, piece in enumerate(pieces, start=self._seq):
            reading = by_number.get(number)
            if reading is not None:
                at_index = self._codec.index(piece)
                told.append(replace(reading, index=True) if at_index and not self._at_index else reading)
                self._at_index = at_index
        return told

    def restart(self) -> None:
        """The port was opened anew, or a request goes out: nothing kept belongs to what follows."""
        self._framer.restart()
        self._arrivals.restart()
        self._number_lost_frames()

    def lose(self, size: int) -> None:
        """`size` bytes were dropped here: the frame before and the frame after are not whole."""
        self._bytes_lost += size
        self._framer.restart(hunting=True)
        self._arrivals.restart()
        self._seq += 1
        self._number_lost_frames()

    @property
    def bytes_in(self) -> int:
        """Bytes fed so far."""
        return self._framer.bytes_in

    def statistics(self) -> AssemblyStatistics:
        """A snapshot."""
        framing = self._framer.statistics()
        return AssemblyStatistics(
            frames=framing.frames,
            readings=self._readings,
            rejected=self._rejected,
            overlong=framing.overlong,
            halves=framing.halves,
            bytes_in=framing.bytes_in,
            bytes_discarded=framing.bytes_discarded,
            bytes_lost=self._bytes_lost,
        )

    def _number_lost_frames(self) -> None:
        self._seq += self._framer.lost - self._framer_lost
        self._framer_lost = self._framer.lost
