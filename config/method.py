"""A method: the versioned set of checks, limits, intervals and decision rule in force.

The file is TOML (`config/methods/*.toml`); this is what it must look like. Whoever owns the method
writes the engine maker's current figures into it; nothing here knows a limit of its own.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from hashlib import sha256
from typing import Annotated, Any, Literal, Self, get_args

from pydantic import Field, model_validator

from config.cautions import USUAL, Step
from config.programme import DamperLimits, Intervals, Programme, Suitability, hidden_limits
from config.runout import FaceRules, SurfaceRules
from config.signs import Chance, Coarser
from config.table import (
    REASON,
    Angle,
    Count,
    Finite,
    GaugeError,
    GaugeStep,
    Limit,
    Name,
    NotNegative,
    Positive,
    Table,
    Text,
    Wording,
)
from config.toml import Mistake
from contract.kinds import KINDS, named
from contract.terms import CheckName, ObservedName, Outcome, Radius, Scope, Surface

RuleName = Literal["simple-acceptance", "guarded-acceptance", "guarded-rejection", "guarded-both"]

CHECKS: tuple[CheckName, ...] = get_args(CheckName)
"""Every check there is, in the order in which a report lists them."""


class Required(Table):
    """The checks that an inspection of each scope must establish."""

    on_engine: tuple[CheckName, ...] = Field(alias="on-engine", min_length=1)
    """On the engine."""
    bench: tuple[CheckName, ...] = Field(min_length=1)
    """On the bench."""


class Bulge(Table):
    """How far the casing may stand proud of its rim; only where the maker gives the rim's thickness."""

    rim_thickness_mm: Positive
    """Thickness of the rim, as the maker gives it."""
    limit_mm: Limit | None = None
    """How far a face may stand proud of it; without it the bulge is told and not judged."""


class ThicknessRules(Table):
    """The bench check of the casing's thickness."""

    limit_mm: Limit
    """Largest spread, highest minus lowest of all places."""
    stations_deg: tuple[Angle, ...] = Field(default=(0.0, 90.0, 180.0, 270.0), min_length=2, max_length=24)
    """Where the stations are, in the order taken: 0 is at the timing mark, 12 o'clock as the damper lies on
    the bench with its front up, and they are counted against the clock, as crank angles in the pictures."""
    second_radius_in_mm: Positive = 25.0
    """How much further in the inner radius lies."""
    max_replicate_range_mm: Positive = 0.02
    """Two readings of one place may differ by this much; above it the place is asked for again."""
    repeatability_least_mm: Positive = 0.0005
    """Standard deviation of one reading, before any place is read twice: at least. Replicates and lifts
    narrow it."""
    repeatability_most_mm: Positive = 0.03
    """And at most."""
    outnumber: Count = 3
    """How many readings of a place that agree set one aside with which the spread may be over; until then the
    check is not within."""
    stands_out_mm: Positive = 0.04
    """A place read once that lies this far from what a wedge and its station explain is asked for again
    before it counts for a decision."""
    absurd_mm: Positive = 1.0
    """From here on the set is `invalid`, and where no place comes nearer to the rim's thickness that the
    method states."""
    thin_mm: NotNegative = 5.0
    """No casing is thinner: where all places are, and would not be as inches, the set is `invalid`; 0 leaves
    that out."""
    press_slack_steps: NotNegative = 2.0
    """A key pressed once more than there are places makes the set `invalid` where that reading lies this far
    outside of all others: those after a place that was read twice stand at the wrong one."""
    alike_mm: NotNegative = 0.02
    """No casing is flat to this from place to place (common practice, no source): places that read the same
    one after the other may be one reading, of a gauge that holds it or was not moved; 0 leaves that out."""
    alike_chance: Chance = 1e-4
    """And the check is not within where places that differ within `alike_mm` would do so with less than this
    chance."""
    copied_chance: Chance = 0.01
    """A set that is to the last digit one before it does not count where readings that repeat as well as
    `repeatability_least_mm` are so with less than this chance."""
    zero_mm: Positive | None = None
    """The micrometer's zero is read before and after, closed or on its setting standard, and may move by this
    much between; left out: it is not asked for."""
    zero_at_mm: NotNegative = 0.0
    """What it shows there: 0 closed, or the length of its setting standard."""
    coarser: Coarser = Coarser()
    """By which steps the readings really move."""
    bulge: Bulge | None = None
    """Only where the maker gives the rim's thickness."""

    @model_validator(mode="after")
    def _stations_increase(self) -> Self:
        if list(self.stations_deg) != sorted(set(self.stations_deg)):
            raise ValueError("stations_deg must increase, each station once")
        return self

    @model_validator(mode="after")
    def _least_below_most(self) -> Self:
        if self.repeatability_least_mm >= self.repeatability_most_mm:
            raise ValueError("repeatability_least_mm must be below repeatability_most_mm")
        if self.stands_out_mm >= self.absurd_mm:
            raise ValueError("stands_out_mm must be below absurd_mm")
        return self

    @property
    def order(self) -> tuple[tuple[float, Radius], ...]:
        """Every (station_deg, radius) in the order in which a gauge with a key takes them."""
        radii: tuple[Radius, ...] = ("outer", "inner")
        return tuple((station, radius) for station in self.stations_deg for radius in radii)


class ItemRule(Table):
    """One thing to look at."""

    id: Name
    """Its name in `record`."""
    text: Text
    """What is good, as the technician reads it."""
    if_bad: Literal["bad", "invalid"] = "bad"
    """What a bad one makes of its check: `bad` condemns the damper; `invalid` is for conditions of the check
    itself (a dwell cut short): the check is to be done again."""
    must_see: Annotated[bool, Field(strict=True)] = True
    """Whether the check stays `missing` until it was seen."""
    figure: Literal["time_min", "temperature_c"] | None = None
    """What must be recorded with it: minutes, or degrees Celsius."""
    least: Finite | None = None
    """Below this the figure is as bad as a bad item."""
    most: Finite | None = None
    """And above this."""

    @model_validator(mode="after")
    def _bounds_have_a_figure(self) -> Self:
        if self.figure is None and (self.least is not None or self.most is not None):
            raise ValueError("least and most bound a figure: say which, time_min or temperature_c")
        if self.least is not None and self.most is not None and self.least > self.most:
            raise ValueError("least must not be above most")
        return self

    def amiss(self, figure: float | None) -> str | None:
        """What is wrong with the figure recorded; None where nothing is, or none is asked for."""
        if self.figure is None or figure is None:
            return None
        unit = {"time_min": "min", "temperature_c": "°C"}[self.figure]
        if self.figure == "time_min" and figure <= 0:
            return f"{figure:g} min is no time"
        if self.least is not None and figure < self.least:
            return f"{figure:g} {unit}, at least {self.least:g} {unit} is asked for"
        if self.most is not None and figure > self.most:
            return f"{figure:g} {unit}, at most {self.most:g} {unit} is allowed"
        return None


class ObservedRules(Table):
    """One check done by eye."""

    item: tuple[ItemRule, ...] = Field(min_length=1, max_length=24)
    """What is looked at, in this order."""

    @model_validator(mode="after")
    def _ids_differ(self) -> Self:
        ids = [item.id for item in self.item]
        if len(ids) != len(set(ids)):
            raise ValueError("every item needs an id of its own")
        return self


class Decision(Table):
    """How a figure near its limit is decided (JCGM 106:2012, 8; ISO 14253-1:2017; one-sided)."""

    rule: RuleName
    """simple-acceptance: within at or below the limit, else over. guarded-acceptance: `within` must be
    proven. guarded-rejection: `over` must be proven. guarded-both: each must be, else `unclear`."""
    guard_r: NotNegative | None = None
    """Guard band, times the expanded uncertainty. Guarded rules take exactly one of this and probability.
    """
    probability: Annotated[float, Field(strict=True, gt=0.5, lt=1.0)] | None = None
    """The proof asked for."""
    coverage: Annotated[float, Field(strict=True, ge=0.5, le=0.999)] = 0.95
    """Of the expanded uncertainties stated."""
    repeat_share: Annotated[float, Field(strict=True, ge=0.0, lt=1.0)] = 0.4
    """Of the chance of a wrong answer that the rule allows, what is kept for looking again: the first look
    spends the rest, the second half of this share, the third a quarter, so that all looks together stay
    within the bound (spending of error, as in group-sequential tests)."""

    @model_validator(mode="after")
    def _guard_fits_rule(self) -> Self:
        given = (self.guard_r is not None) + (self.probability is not None)
        if self.rule == "simple-acceptance" and given:
            raise ValueError("simple-acceptance has no guard band: leave out guard_r and probability")
        if self.rule != "simple-acceptance" and given != 1:
            raise ValueError(f"{self.rule} needs exactly one of guard_r and probability")
        return self


class GaugeRules(Table):
    """What is asked of a gauge before it reads."""

    past_due: Literal["warn", "refuse"] = "warn"
    """Once its calibration has run out: `warn` in the result, or `refuse` to begin."""


class MarkRules(Table):
    """When a press for the next mark is asked about once: the crank may not have been turned since."""

    least_s: NotNegative = 1.0
    """A press sooner after the last."""
    least_move_steps: NotNegative = 2.0
    """Or one between which the gauge's readings lie no further apart than this, or than their noise."""
    least_turn_deg: Positive = 90.0
    """Over this much between marks, or more."""


class LiftRules(Table):
    """When a lift of the plunger counts, and when a repeatability test does. Of lengths given as _mm and as
    steps of the display the larger holds.
    """

    still_s: Positive = 1.5
    """The gauge stands still when its readings of so long keep near to each other."""
    still_mm: Positive = 0.03
    """So near."""
    still_steps: NotNegative = 3.0
    """Or so many steps of the display."""
    lift_mm: Positive = 0.1
    """A lift moves it by more."""
    lift_steps: NotNegative = 10.0
    """And by more steps of the display."""
    lift_spreads: NotNegative = 10.0
    """And by more than so many times the spread that it had standing."""
    drift_mm: Positive = 0.005
    """Standing between lifts it creeps by no more."""
    drift_steps: NotNegative = 2.0
    """Or steps of the display."""
    apart_mm: Positive = 0.05
    """Values farther apart are no repeatability."""
    apart_steps: NotNegative = 5.0
    """Or steps of the display."""
    rock_deg: Positive = 0.5
    """A crank that rocks by no more stands."""
    rock_steps: NotNegative = 2.0
    """Or steps of the encoder."""


class Typed(Table):
    """What is taken for a plain dial or micrometer whose readings are typed, unless stated there."""

    resolution_mm: GaugeStep
    """What its reader tells apart."""
    mpe_mm: GaugeError
    """Its maximum permissible error, as for a configured gauge."""
    angle_u_deg: NotNegative = 2.0
    """Standard uncertainty of a crank angle read off the engine's own marks."""


class Method(Table):
    """The whole file."""

    schema_: Literal["ringtrue/method/1"] = Field(alias="schema")
    """Which kind of file this is."""
    id: Name
    """The method's name; results carry it."""
    version: Name
    """Raise it with every change; results carry it."""
    description: Text
    """One line for people."""
    required: Required
    """What must be done."""
    rim: SurfaceRules
    """Run-out of the rim."""
    face: FaceRules
    """Wobble of the front face."""
    thickness: ThicknessRules
    """Thickness of the casing."""
    observed: dict[ObservedName, ObservedRules]
    """The checks done by eye."""
    decision: Decision
    """How a figure near its limit is decided."""
    intervals: Intervals
    """When the next is due."""
    typed: Typed
    """Plain dials."""
    programme: Programme = Programme()
    """When an inspection is told of."""
    damper: tuple[DamperLimits, ...] = Field(default=(), max_length=20)
    """Limits of kinds of dampers, each a [[damper]]; the first that fits holds."""
    suitability: Suitability = Suitability()
    """Which damper suits which engine."""
    gauges: GaugeRules = GaugeRules()
    """Gauges past their date."""
    marks: MarkRules = MarkRules()
    """Presses for a mark."""
    lifts: LiftRules = LiftRules()
    """Repeatability tests."""
    wording: dict[CheckName, dict[Outcome, Wording]] = Field(default_factory=dict)
    """A reason in your own words, by check and outcome; {reason} in them stands for the reason itself."""
    cautions: dict[Step, tuple[Text, ...]] = Field(default_factory=dict)
    """What every display shows at a step, in place of the usual cautions there; an empty list: nothing."""

    @classmethod
    def cross_checks(cls, data: Mapping[str, Any]) -> list[Mistake]:
        """What is amiss between tables."""
        return hidden_limits(data.get("damper"))

    @model_validator(mode="after")
    def _required_are_described(self) -> Self:
        needed = {*self.required.on_engine, *self.required.bench} & set(named("items"))
        missing = sorted(needed - set(self.observed))
        if missing:
            raise ValueError(f"a required check has no items: observed.{missing[0]} is missing")
        return self

    def required_checks(self, scope: Scope) -> tuple[CheckName, ...]:
        """The checks that an inspection of this scope must establish, in report order."""
        wanted = set(self.required.on_engine if scope != "bench" else ())
        wanted |= set(self.required.bench if scope != "on-engine" else ())
        return tuple(check for check in CHECKS if check in wanted)

    def worded(self, check: str, outcome: Outcome, reason: str) -> str:
        """A reason in the method's own words, where it has some for that outcome."""
        found = {str(name): words for name, words in self.wording.items()}.get(check, {}).get(outcome)
        return reason if found is None else found.replace(REASON, reason)

    def cautions_at(self, step: Step) -> tuple[str, ...]:
        """What a person must have read at a step: this method's cautions, else the usual ones."""
        return self.cautions.get(step, USUAL.get(step, ()))

    def of_damper(self, family: str | None, construction: str | None) -> Method:
        """The method with the limits of such a damper; where its kind is not known, with the strictest of
        those that may be its own."""
        found = [one for one in self.damper if one.fits(family, construction)]
        if not found:
            return self
        sure = [one for one in found if not _is_guess(one, family, construction)]
        first = found.index(sure[0]) if sure else len(found)
        changed: dict[str, Any] = {}
        for check in ("rim", "face", "thickness"):
            rules = getattr(self, check)
            may_be = [getattr(one, f"{check}_mm") or rules.limit_mm for one in found[: first + 1]]
            own = [] if sure else [rules.limit_mm]
            changed[check] = rules.model_copy(update={"limit_mm": min(may_be + own)})
        return self.model_copy(update=changed)

    def limit_mm(self, check: str) -> float | None:
        """Limit of a measured check, mm; None for one done by eye."""
        return getattr(self, check).limit_mm if check in KINDS and KINDS[check].is_measured else None

    def surface(self, surface: Surface) -> SurfaceRules:
        """Rules of one run-out check."""
        return self.rim if surface == "rim" else self.face

    def as_data(self) -> dict[str, Any]:
        """The method as plain JSON data; `Method.model_validate` of it gives the method again."""
        return self.model_dump(mode="json", by_alias=True)

    def sha256(self) -> str:
        """Hash of what the method says (canonical JSON), so that a comment in its file changes nothing."""
        return sha256_of(self.as_data())


def sha256_of(said: Mapping[str, Any]) -> str:
    """The hash of a method as plain JSON data, of whichever version."""
    canonical = json.dumps(said, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return sha256(canonical.encode()).hexdigest()


def _is_guess(limits: DamperLimits, family: str | None, construction: str | None) -> bool:
    return (limits.family is not None and family is None) or (
        limits.construction is not None and construction is None
    )
