"""Stamped bytes to readings: framing, decoding, numbering and the stated latency, without a port.

Pure as a framer is, so a whole sweep runs through it in virtual time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from config.profile import GaugeProfile, Manner, Requested, Says, WireUnit
from drivers.arrival import Arrivals
from drivers.errors import FrameError, StatusError
from drivers.framings import framer
from drivers.manners import MISSES_TO_SILENCE, behaviour
from drivers.reading import Reading
from drivers.switching import Switching
from drivers.values import codec
from drivers.values.base import WHOLE

LARGEST = 2**63 - 1
"""The largest number that a reading may have, in its whole unit: the journal keeps no larger one."""
# Seconds without a byte after which a gauge may have been off, at least; else its three missed periods.
OFF_S = 1.0


@dataclass(frozen=True, slots=True)
class AssemblyStatistics:
    """What came and what became of it, since the assembler was made.

    frames: whole ones = readings + rejected + others, which are another channel's. overlong, halves,
    bytes_discarded: as the framer counts them. bytes_lost: dropped before they got here because a queue was
    full. bytes_wrong: came with a wrong parity or stop bit.
    """

    frames: int
    readings: int
    rejected: int
    others: int
    overlong: int
    halves: int
    bytes_in: int
    bytes_discarded: int
    bytes_lost: int
    bytes_wrong: int


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
        self._seq = self._readings = self._rejected = self._others = self._framer_lost = self._bytes_lost = 0
        self._at_index = False
        self._switching = _switching(profile)
        self._off_ns, self._came_ns = round(max(MISSES_TO_SILENCE * _pace_s(profile.manner), OFF_S) * 1e9), 0
        self.last_rejected: bytes | None = None
        self.bytes_wrong = 0
        self.strange = 0
        """Whole frames since the last reading that were none; `says`: what the gauge said in the last one."""
        self.says: Says | None = None

    def feed(self, data: bytes, time_ns: int, since_ns: int | None = None) -> list[Reading]:
        """The readings that `data`, whose last byte came at `time_ns`, completes.

        since_ns: the data came after it, and by time_ns (drivers.arrival); None: at time_ns.
        """
        if self._switching is not None and time_ns - self._came_ns > self._off_ns:
            self._switching.restart()
        self._came_ns = time_ns
        pieces = self._framer.split(data, time_ns)
        if self._framer.lost != self._framer_lost:
            self._number_lost_frames()
        if not pieces:
            return []
        readings: list[Reading] = []
        gauge, unit, value, add = self._gauge, self._codec.unit, self._codec.value, readings.append
        seq, latency_ns, read, codec = self._seq, self._latency_ns, 0, self._codec
        takes = None if self._switching is None else self._switching.takes
        times, u_ns = self._arrivals.of(len(pieces), time_ns if since_ns is None else since_ns, time_ns)
        for piece, came_ns in zip(pieces, times, strict=True):
            try:
                number = value(piece)
                if not -LARGEST <= number <= LARGEST:
                    raise FrameError(gauge, "a number that can be", piece)
                if takes is not None and not takes(number, codec.decimals):
                    raise FrameError(gauge, "the unit of before", piece)
                reading = Reading(gauge, seq, came_ns - latency_ns, number, unit, u_ns)
                add(self._with_index(piece, reading) if codec.has_index else reading)
            except FrameError as error:
                if len(readings) > read:
                    read, self.strange = len(readings), 0
                if not self._is_strange(error, piece):
                    continue
            seq += 1
        if len(readings) > read:
            self.strange = 0
        self._seq = seq
        self._readings += len(readings)
        return readings

    def _with_index(self, piece: bytes, reading: Reading) -> Reading:
        """The same, told of the index where it comes: where the frame before did not say so."""
        was_at_index, self._at_index = self._at_index, self._codec.index(piece)
        return replace(reading, index=True) if self._at_index and not was_at_index else reading

    @property
    def beside(self) -> Says | None:
        """What the gauge said beside its last reading."""
        return self._codec.says

    @property
    def shows(self) -> WireUnit | None:
        """The unit that the frame of its last reading said; None where they do not say."""
        return self._codec.shows

    @property
    def switched(self) -> tuple[int, int] | None:
        """The numbers before and after a leap, as when its unit is switched, where there was one."""
        return None if self._switching is None else self._switching.switched

    @property
    def switched_by_step(self) -> bool:
        """Whether there was no leap, and its numbers go by another step alone."""
        return self._switching is not None and self._switching.by_step

    def reopened(self) -> None:
        """The port was opened anew: it may be another gauge, or in another unit."""
        self.restart()
        self.strange, self.says = 0, None
        if self._switching is not None:
            self._switching.restart()

    def restart(self) -> None:
        """A request goes out, or it was silent: nothing kept belongs to what follows."""
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

    def spoil(self, size: int) -> None:
        """`size` bytes came wrong here: the frame that they were of is none."""
        self.bytes_wrong += size
        self._framer.restart(hunting=True)
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
            others=self._others,
            overlong=framing.overlong,
            halves=framing.halves,
            bytes_in=framing.bytes_in,
            bytes_discarded=framing.bytes_discarded,
            bytes_lost=self._bytes_lost,
            bytes_wrong=self.bytes_wrong,
        )

    def _is_strange(self, error: FrameError, piece: bytes) -> bool:
        """Whether a frame that is no reading should have been one; not where it is another channel's."""
        says = error.says if isinstance(error, StatusError) else None
        if says == "other":
            self._others += 1
            return False
        self._rejected += 1
        self.strange, self.says, self.last_rejected = self.strange + 1, says, piece
        return True

    def _number_lost_frames(self) -> None:
        self._seq += self._framer.lost - self._framer_lost
        self._framer_lost = self._framer.lost


def _switching(profile: GaugeProfile) -> Switching | None:
    """None for what is no length, says its unit itself, or is put to another place before each reading."""
    if profile.unit_is_told or profile.manner.by_hand:
        return None
    value = profile.value
    per_unit = WHOLE[value.unit][1] * abs(float(value.scale))
    return Switching(per_unit, in_mm=value.unit is WireUnit.MM, hidden=not profile.unit_is_shown)


def _pace_s(manner: Manner) -> float:
    """How long it takes at most from one reading to the next."""
    if isinstance(manner, Requested):
        return manner.period_s + manner.timeout_s
    return manner.own_pace_s or 0.0
