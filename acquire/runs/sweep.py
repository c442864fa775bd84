"""The sweep that runs: figures kept up with every reading, in constant time and memory.

These are for the eye. A result is made of the journal, with tags that look both ways.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from acquire.angle.covered import Covered
from acquire.angle.encoder import IndexWatch
from acquire.angle.source import TURN_UDEG
from acquire.angle.sources import source_of, time_u_ns
from acquire.angle.standing import Standing
from acquire.angle.tracker import Backing, CrankTracker
from acquire.journal.events import (
    ZERO,
    EndReason,
    Event,
    GaugeAway,
    IndexPassed,
    Mark,
    Place,
    Resumed,
    Sample,
    SweepBegun,
    TypedRunout,
    TypedThickness,
    Zeroed,
)
from acquire.journal.typed import counting
from acquire.runs.intake import Intake
from acquire.runs.places import next_place, place_of
from acquire.runs.sectors import Sectors
from acquire.runs.travel import travel_warning
from contract.kinds import takes
from contract.terms import AngleZero
from contract.units import NM_PER_MM, UDEG_PER_DEG
from drivers.reading import Reading

# The most readings, of gauge and encoder together, that a sweep holds: half an hour of two at 50 a second.
# A sweep forgotten overnight ends here instead of growing.
READINGS_MAX = 200_000


@dataclass(frozen=True, slots=True)
class Figures:
    """A sweep so far; angles in microdegrees, lengths in nm; None where there is none yet."""

    angle_udeg: int | None
    angle_u_deg: float | None
    turn: int | None
    value_nm: int | None
    min_nm: int | None
    max_nm: int | None
    covered_udeg: int
    largest_gap_deg: float
    closure_nm: float | None
    readings: int
    lost: int
    back_udeg: int
    back_times: int
    next_place: Place | None
    places: tuple[tuple[Place, int, int], ...]
    """Of a casing: each that was read, the mean there, and how often."""


class RunningSweep:
    """One sweep from its SweepBegun on. Readings and events go in in the order of the journal.

    still_steps: readings no further apart than so many steps of the display have not moved.
    """

    def __init__(self, begun: SweepBegun, still_steps: float = 2.0) -> None:
        self.begun = begun
        self._turning = takes(begun.check) == "turn"
        self.gauge = begun.gauge.id
        self.encoder = begun.angle.gauge
        self.intake = Intake(begun)
        self._marked: tuple[int, int] | None = None
        self.standing = Standing(still_steps * begun.gauge.resolution_nm)
        self._zero = begun.angle.zero
        self.index = IndexWatch(begun.angle)
        self._typed: list[TypedRunout] = []
        self._taken: list[Place] = []
        self._thickness: dict[int, int] = {}
        self._where: dict[int, Place] = {}
        self._begin()

    def _begin(self) -> None:
        """Figures of no reading yet."""
        begun = self.begun
        self.readings = 0
        self._source = source_of(begun)
        self._tracker = CrankTracker(self._source.live_u_deg, time_u_ns(begun))
        self._covered = Covered(self._source.reach_ns)
        self._value: int | None = None
        self._value_ns = 0
        self._min = self._max = 0
        self._sectors = Sectors()

    def take(self, reading: Reading) -> bool:
        """One reading of the sweep's gauge or its encoder; False where it is to be left out: of another
        gauge, heard before, or the gauge's from before the sweep."""
        if not self.intake.takes(reading):
            return False
        if reading.gauge == self.gauge:
            if not self._turning:
                self._take_thickness(reading.value)
            else:
                self.standing.take(reading.value)
                self._covered.take_reading(reading.time_ns)
                self._take_value(reading.value, reading.time_ns, self._tracker.angle_udeg)
        else:
            angle = self._source.heard(reading)
            if angle is not None:
                self._take_known(angle, reading.time_ns)
        return True

    def _take_value(self, value: int, time_ns: int, angle: int | None) -> None:
        self._widen(value)
        self._value, self._value_ns = value, time_ns
        self.readings += 1
        if angle is not None:
            self._sectors.take(angle, value)

    def _widen(self, value: int) -> None:
        if self._value is None:
            self._min = self._max = value
        elif value < self._min:
            self._min = value
        elif value > self._max:
            self._max = value

    def _take_thickness(self, value: int, typed: TypedThickness | None = None) -> None:
        if typed is not None and typed.replaces:
            if typed.place == ZERO:
                return
            self._thickness[typed.replaces] = value
        else:
            place = typed.place if typed is not None else place_of(self.begun, self._taken, value)
            if place is None:
                return
            self._taken.append(place)
            self._value = value
            if place == ZERO:
                return
            number = -len(self._taken) if typed is None else typed.seq
            self._thickness[number], self._where[number] = value, place
            self.readings += 1
        self._value = value
        self._min, self._max = min(self._thickness.values()), max(self._thickness.values())

    def _take_typed(self, event: TypedRunout) -> None:
        self._tracker.take_known(event.angle_udeg, event.time_ns)
        self._covered.take_angle(event.angle_udeg)
        self._take_value(event.value_nm, event.time_ns, event.angle_udeg)
        for seen in (event.low_nm, event.high_nm):
            if seen is not None:
                self._widen(seen)

    def _correct(self) -> None:
        """All that a correction of a dial's reading may have changed, anew."""
        self._begin()
        for typed in counting(self._typed):
            self._take_typed(typed)

    def hear(self, event: Event) -> None:
        """An event within the sweep, as live or as read from the journal."""
        self.intake.hear(event)
        match event:
            case Sample():
                self.take(Reading(event.gauge, event.reading, event.time_ns, event.value, event.unit))
            case Mark():
                self._take_mark(event)
            case TypedRunout():
                self._typed.append(event)
                if event.replaces:
                    self._correct()
                else:
                    self._take_typed(event)
            case TypedThickness():
                self._take_thickness(event.value_nm, event)
            case Zeroed() if event.gauge == self.encoder and self.begun.angle.position is not None:
                self._zero = event.position - self.begun.angle.position
            case IndexPassed() if self._tracker.angle_udeg is not None:
                self.index.passed(self._tracker.angle_udeg)
            case GaugeAway():
                if event.gauge == self.encoder:
                    self._covered.break_off(event.time_ns)
                    self._marked = None
            case Resumed():
                self._covered.break_off(None)
                self._marked = None
                self.standing.forget()
            case _:
                pass

    def _take_mark(self, event: Mark) -> None:
        angle = self._source.marked(event)
        if angle is not None:
            self._take_known(angle, event.time_ns)
            self.standing.mark(angle, anew=event.sure)
        elif self._tracker.angle_udeg is not None:
            self._marked = event.angle_udeg, self._tracker.angle_udeg

    def _places(self) -> tuple[tuple[Place, int, int], ...]:
        read: dict[Place, list[int]] = {}
        for number, place in self._where.items():
            read.setdefault(place, []).append(self._thickness[number])
        return tuple((place, round(sum(all_nm) / len(all_nm)), len(all_nm)) for place, all_nm in read.items())

    def _take_known(self, angle_udeg: int, time_ns: int) -> None:
        self._tracker.take_known(angle_udeg, time_ns)
        self._covered.take_known(time_ns, angle_udeg)

    def off_encoder_udeg(self, mark_udeg: int) -> int | None:
        """By how much a mark differs from what the encoder has turned since the last one, within half a
        turn; None where there is nothing to compare."""
        if self._marked is None or self._tracker.angle_udeg is None:
            return None
        before, stood = self._marked
        off = (mark_udeg - before) - (self._tracker.angle_udeg - stood)
        return (off + TURN_UDEG // 2) % TURN_UDEG - TURN_UDEG // 2

    @property
    def end(self) -> EndReason | None:
        """Why the sweep is over by itself; None while it is not."""
        if self.intake.kept >= READINGS_MAX:
            return "full"
        if not self._turning:
            return "complete" if self.begun.places and next_place(self.begun, self._taken) is None else None
        full = self.full_udeg
        return "complete" if full is not None and self._covered.span >= full else None

    @property
    def full_udeg(self) -> int | None:
        """How much of the surface must be covered for the sweep to end by itself; None where it does not.

        What a person types has no end that could be told from a pause.
        """
        if self.begun.check == "thickness" or self.begun.angle.source == "typed":
            return None
        return self._source.full_udeg + (self.begun.turns - 1) * TURN_UDEG

    @property
    def to_bar_udeg(self) -> int | None:
        """How much of that is still to be covered."""
        full = self.full_udeg
        return None if full is None else max(0, full - self._covered.span)

    @property
    def angle_zero(self) -> AngleZero | None:
        """What 0 degrees is."""
        if not self._turning:
            return None
        return self.begun.angle.zero_at(self._zero)

    @property
    def backing(self) -> Backing:
        """How far and how often the crank was barred back."""
        return self._tracker.backing

    @property
    def name(self) -> str:
        """As a person calls it."""
        return f"{self.begun.check} sweep"

    def said_begun(self) -> dict[str, Any]:
        """For the reply to `begin`."""
        return {"places": len(self.begun.places)} if self.begun.places else {}

    def said_ended(self) -> dict[str, Any]:
        """For the reply to `end`: nothing more, it is judged by grading."""
        return {}

    def logged(self) -> tuple[str, dict[str, Any]]:
        """What ended, and its figures."""
        now = self.figures()
        return "sweep ended", {
            "check": self.begun.check,
            "readings": now.readings,
            "lost": now.lost,
            "covered_deg": round(now.covered_udeg / UDEG_PER_DEG, 1),
            "deviation_mm": ((now.max_nm or 0) - (now.min_nm or 0)) / NM_PER_MM,
        }

    def travel_warning(self) -> str | None:
        """What to do where the indicator comes near an end of its travel."""
        if self.readings == 0 or not self._turning:
            return None
        return travel_warning(self.begun.gauge.travel_nm, self._min, self._max)

    def figures(self) -> Figures:
        """The figures now; a gauge that is away shows no value, an encoder that is away no angle."""
        has_any = self.readings > 0
        angle = None if self.encoder in self.intake.away else self._tracker.angle_udeg
        if angle is not None and self._zero is not None:
            angle -= self._source.zero_udeg(self._zero)
        return Figures(
            angle_udeg=angle,
            angle_u_deg=None if angle is None else self._tracker.u_deg(self._value_ns),
            turn=self._tracker.turn if self._turning else None,
            value_nm=None if self.gauge in self.intake.away else self._value,
            min_nm=self._min if has_any else None,
            max_nm=self._max if has_any else None,
            covered_udeg=self._covered.span,
            largest_gap_deg=self._sectors.largest_gap_deg,
            closure_nm=self._sectors.closure_nm,
            readings=self.readings,
            lost=self.intake.lost,
            back_udeg=self.backing.back,
            back_times=self.backing.times,
            next_place=next_place(self.begun, self._taken),
            places=self._places(),
        )
