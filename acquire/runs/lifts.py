"""A repeatability test at the bay: the plunger lifted and let back three times, the crank standing.

The value of a lift is one reading: the first by which the gauge has stood still again. So it holds all
that a reading of a sweep or of a micrometer holds, noise and display step included, whatever the
gauge's manner; a gauge with a key, or a person who types, gives one reading for each lift.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING, Any, Literal

from acquire.angle.source import TURN_UDEG
from acquire.angle.sources import source_of
from acquire.angle.standing import Standing
from acquire.angle.tracker import Backing
from acquire.journal.events import (
    EndReason,
    Event,
    GaugeAway,
    Mark,
    Resumed,
    Sample,
    SweepBegun,
    TypedLift,
)
from acquire.runs.intake import Intake
from acquire.runs.sweep import READINGS_MAX
from config.method import LiftRules
from contract.terms import TYPED
from contract.units import NM_PER_MM, UDEG_PER_DEG
from drivers.reading import Reading

if TYPE_CHECKING:
    from grading.gauge.repeats import Repeatability

LIFTS = 3
"""Lifts of a test: the fewest that count, and with a gauge that is read here all there are."""
# A gauge stands still over so many readings at the least; and is lifted in so many, as a single one may be a
# fault of the line. How still, and how far, is the method's.
STILL_READINGS, LIFT_READINGS = 3, 2

AGAIN = "cancel and begin again"


@dataclass(frozen=True, slots=True)
class LiftFigures:
    """A test so far. values_nm: of each lift. fault: why it will not count, with what to do; None while
    it may. next_step: what the technician does next."""

    values_nm: tuple[int, ...]
    value_nm: int | None
    lost: int
    fault: str | None
    next_step: str
    repeatability: Repeatability | None


def _larger(length_mm: float, steps: float, step_nm: int) -> int:
    """The larger of a length and so many steps of the display, in nm."""
    return max(round(length_mm * NM_PER_MM), round(steps * step_nm))


class RunningLifts:
    """One repeatability test from its beginning on. Readings and events go in in the journal's order."""

    def __init__(self, begun: SweepBegun, rules: LiftRules) -> None:
        self.begun = begun
        self._rules = rules
        self.gauge = begun.gauge.id
        self.encoder = begun.angle.gauge
        self.intake = Intake(begun)
        self.readings = 0
        self.backing = Backing()
        # What a turn of the crank has, and a crank that stands has not.
        self.standing: Standing | None = None
        self.to_bar_udeg: int | None = None
        step = begun.gauge.resolution_nm
        self._still_ns = round(rules.still_s * 1e9)
        self._still_nm = _larger(rules.still_mm, rules.still_steps, step)
        self._lift_nm = _larger(rules.lift_mm, rules.lift_steps, step)
        self._drift_nm = _larger(rules.drift_mm, rules.drift_steps, step)
        self._apart_nm = _larger(rules.apart_mm, rules.apart_steps, step)
        self._source = source_of(begun)
        self._crank: tuple[int, int] | None = None
        self._phase: Literal["settling", "standing", "lifted"] = "settling"
        self._window: deque[tuple[int, int]] = deque()
        self._base: int | None = None
        self._stood = self._creep = self._away_readings = 0
        self._middle = 0.0
        self._value: int | None = None
        self._values: list[int] = []
        self._moved: str | None = None

    @property
    def name(self) -> str:
        """As a person calls it."""
        return "repeatability test"

    @property
    def by_reading(self) -> bool:
        """Whether each reading is the value of a lift: of a gauge with a key, or typed."""
        return self.begun.by_reading

    def take(self, reading: Reading) -> bool:
        """One reading of the gauge or the encoder; False where it is to be left out: of another gauge,
        heard before, or the gauge's from before the test."""
        if not self.intake.takes(reading):
            return False
        if reading.gauge == self.gauge:
            self._take_value(reading.value, reading.time_ns)
        else:
            angle = self._source.heard(reading) or 0
            low, high = self._crank or (angle, angle)
            self._crank = min(low, angle), max(high, angle)
        return True

    def hear(self, event: Event) -> None:
        """An event within the test, as live or as read from the journal."""
        self.intake.hear(event)
        match event:
            case Sample():
                self.take(Reading(event.gauge, event.reading, event.time_ns, event.value, event.unit))
            case TypedLift() if event.replaces:  # the last one only can be
                self._value = self._values[-1] = event.value_nm
            case TypedLift():
                self._take_value(event.value_nm, event.time_ns)
            case Mark() if self.readings:
                self._moved = "the crank was barred to a mark"
            case GaugeAway() | Resumed():
                self._unsettle()
            case _:
                pass

    def _unsettle(self) -> None:
        """Nothing was seen of the gauge for a while; a lift that was seen before is one still."""
        self._window.clear()
        if self._phase == "standing":
            self._phase = "settling"

    # -- the gauge

    def _take_value(self, value: int, time_ns: int) -> None:
        self._value = value
        self.readings += 1
        if self.by_reading:
            self._values.append(value)
            return
        if self._phase == "standing" and abs(value - self._stood) > self._lift_nm:
            self._away_readings += 1
            if self._away_readings >= LIFT_READINGS:
                self._phase = "lifted"
                self._window.clear()
            return
        self._away_readings = 0
        window = self._window
        window.append((time_ns, value))
        while len(window) > 2 and time_ns - window[1][0] >= self._still_ns:
            window.popleft()
        if self._phase == "standing":
            self._watch_drift()
        elif self._is_still() and self._is_back(value):
            if self._phase == "lifted":
                self._values.append(value)
            self._stand(value)

    def _stand(self, value: int) -> None:
        values = [seen for _, seen in self._window]
        if self._base is None:
            self._base = value
            spread = max(values) - min(values)
            self._lift_nm = max(self._lift_nm, round(self._rules.lift_spreads * spread))
            self._drift_nm = max(self._drift_nm, spread)
        self._phase, self._stood, self._middle = "standing", value, median(values)

    def _watch_drift(self) -> None:
        """A creep shows between windows that share nothing: from how it stood after the lift."""
        if self._is_still():
            creep = median(seen for _, seen in self._window) - self._middle
            self._creep = max(self._creep, round(abs(creep)))

    def _is_still(self) -> bool:
        window = self._window
        if len(window) < STILL_READINGS or window[-1][0] - window[0][0] < self._still_ns:
            return False
        values = [seen for _, seen in window]
        return max(values) - min(values) <= self._still_nm

    def _is_back(self, value: int) -> bool:
        return self._base is None or abs(value - self._base) <= self._lift_nm

    # -- what it comes to

    @property
    def end(self) -> EndReason | None:
        """Why the test is over by itself; None while it is not. What a person types has no such end."""
        if self.intake.kept >= READINGS_MAX:
            return "full"
        return "complete" if self.gauge != TYPED and len(self._values) >= LIFTS else None

    @property
    def fault(self) -> str | None:
        """Why the test will not count whatever comes, and what to do; None where nothing is wrong so far."""
        source = self.begun.angle
        step_udeg = source.step * TURN_UDEG // source.per_turn
        low, high = self._crank or (0, 0)
        if self._moved is not None:
            return f"{self._moved}; leave it standing and begin again"
        rock_udeg = round(self._rules.rock_deg * UDEG_PER_DEG)
        if high - low > max(rock_udeg, round(self._rules.rock_steps * step_udeg)):
            return (
                f"the crank moved by {(high - low) / UDEG_PER_DEG:.1f} degrees; "
                "leave it standing and begin again"
            )
        if self._creep > self._drift_nm:
            return (
                f"the value drifts, by {self._creep / NM_PER_MM:.3f} mm while nobody lifts; "
                "tighten base and contact, let the gauge warm up and begin again"
            )
        apart = max(self._values, default=0) - min(self._values, default=0)
        if apart > self._apart_nm:
            return (
                f"the lifts differ by {apart / NM_PER_MM:.3f} mm; "
                "check base, contact and that the plunger moves freely, then begin again"
            )
        return None

    def verdict(self) -> tuple[Repeatability | None, str | None]:
        """Of a test that has ended: its repeatability, or why it does not count and what to do."""
        done = len(self._values)
        if self.fault is None and done < LIFTS:
            lifts = f"{done} lift{'' if done == 1 else 's'}"
            return None, f"it has {lifts}, at least {LIFTS} are needed; begin again"
        if self.fault is not None:
            return None, self.fault
        return self._repeatability(), None

    def _repeatability(self) -> Repeatability | None:
        if len(self._values) < 2:
            return None
        from grading.gauge.repeats import proven, repeatability_of_lifts  # heavy: see acquire.bay.evidence

        values_mm = [value / NM_PER_MM for value in self._values]
        return proven(repeatability_of_lifts(values_mm), self.begun.gauge.resolution_nm / NM_PER_MM)

    def off_encoder_udeg(self, _: int) -> int | None:
        """No mark is held against the encoder: the crank stands."""
        return None

    def said_begun(self) -> dict[str, Any]:
        """For the reply to `begin`."""
        return {"lifts": LIFTS}

    def said_ended(self) -> dict[str, Any]:
        """For the reply to `end`: whether it counts, and why not."""
        _, fault = self.verdict()
        return {"counts": fault is None, **({} if fault is None else {"reason": fault})}

    def logged(self) -> tuple[str, dict[str, Any]]:
        """What ended, and its figures."""
        found, fault = self.verdict()
        return "repeatability test ended", {
            "lifts": len(self._values),
            "lost": self.intake.lost,
            "sd_mm": None if found is None else tenth_um(found.sd_mm),
            "fault": fault,
        }

    def figures(self) -> LiftFigures:
        """The figures now; a gauge that is away shows no value."""
        return LiftFigures(
            values_nm=tuple(self._values),
            value_nm=None if self.gauge in self.intake.away else self._value,
            lost=self.intake.lost,
            fault=self.fault,
            next_step=self._next_step(),
            repeatability=self._repeatability(),
        )

    def _next_step(self) -> str:
        done = len(self._values)
        if self.fault is not None:
            return AGAIN
        if self.gauge in self.intake.away:
            return f"{self.gauge} gives no readings: switch it on and check its cable"
        if self.gauge == TYPED:
            more = "" if done < LIFTS else ", or end"
            return f"lift {done + 1}: lift the plunger, let it back and record what it shows{more}"
        if self.by_reading:
            return f"lift {done + 1} of {LIFTS}: lift, set down again and press the key"
        if self._phase == "standing":
            return f"lift {done + 1} of {LIFTS}: lift the plunger and let it back"
        if self._value is not None and not self._is_back(self._value):
            return f"let the plunger back on the surface; if it is back, something has moved: {AGAIN}"
        return f"wait: {self.gauge} must stand still for {self._rules.still_s:g} s"


def tenth_um(value_mm: float) -> float:
    """To a tenth of a micrometre."""
    return round(value_mm, 4)


def judge_lifts(
    begun: SweepBegun, events: Iterable[Event], rules: LiftRules
) -> tuple[Repeatability | None, str | None]:
    """What a test that has ended came to, from its events in the journal's order: its repeatability, or
    why it does not count and what to do. Pure."""
    run = RunningLifts(begun, rules)
    for event in events:
        run.hear(event)
    return run.verdict()
