"""What pages read from the records, as plain data.

Lengths are in millimetres, angles in degrees of the crank. Sentences are those of the method and the records,
in English.
"""

from __future__ import annotations

from datetime import date
from typing import Literal

from pydantic import BaseModel, ConfigDict

from contract.result import NextDue, StationPart
from contract.terms import AngleZero, Decision, MeasuredOutcome, Outcome, Scope, State, Surface, Verdict

Place = date | float
"""A day, or what a counter shows."""


class Told(BaseModel):
    """Anything that is told of the past: where there is no value there is no key."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class SpellTold(Told):
    """A damper on an engine, or the other way round: the other's serial, first and last day on record."""

    serial: str
    first: date
    last: date
    inspections: int


class VisitTold(Told):
    """One check at one service; no figure where it gave none that counts."""

    inspection: str
    engine: str
    distance_km: float | None = None
    hours_h: float | None = None
    outcome: MeasuredOutcome
    limit_mm: float
    figure_mm: float | None = None
    u_expanded_mm: float | None = None
    coverage: float
    gauge: str | None = None
    date: date


class LinePoint(Told):
    """The trend at one place: median and both ends of its 95 % interval, of the true figure at a service."""

    at: Place
    median_mm: float
    low_mm: float
    high_mm: float


class TrendTold(Told):
    """Where a check is heading. latest: the place of its latest figure; interval: one usual interval, in the
    count or in days: further ahead all of it is an extrapolation. rate_mm, at_due_mm: median, low and high
    end of the 95 % interval; the rate is per rate_per of the count. met, met_early: where the limit is met,
    and where its chance comes to 5 %; none where that is not in sight. line: from the first visit on."""

    by: Literal["hours_h", "distance_km", "date"]
    why_by: str | None = None
    why_none: str | None = None
    latest: Place | None = None
    interval: float | None = None
    rate_per: float | None = None
    rate_mm: tuple[float, float, float] | None = None
    rising: bool | None = None
    met: Place | None = None
    met_early: Place | None = None
    due: Place | None = None
    at_due_mm: tuple[float, float, float] | None = None
    p_over_at_due: float | None = None
    line: tuple[LinePoint, ...] | None = None


class CheckTold(Told):
    """One check over the services, oldest first; limit_mm: the latest one's."""

    limit_mm: float
    visits: tuple[VisitTold, ...]
    trend: TrendTold


class PhotoTold(Told):
    """A picture of something looked at."""

    file: str
    check: str
    item: str
    note: str | None = None


class LookedTold(Told):
    """One inspection, as its latest revision tells it. contradicted: bays issued results that contradict
    each other. uncounted: why its `keep` does not stand. warnings: of each check. closed: when, of one that
    was given up after that: what it found may stand."""

    inspection: str
    revision: int
    date: date
    engine: str
    scope: Scope
    state: State
    verdict: Verdict
    decision: Decision | None = None
    closed: str | None = None
    signed_by: str | None = None
    contradicted: Literal[True] | None = None
    uncounted: str | None = None
    outcomes: dict[str, Outcome]
    warnings: dict[str, tuple[str, ...]] = {}
    stations: tuple[StationPart, ...] | None = None
    photos: tuple[PhotoTold, ...] = ()


class PastTold(Told):
    """A damper's past, on whatever engine. engine, carried: where an engine was asked for, the dampers that
    it has carried, the last of which all else is of. verdict, next_due: as the latest inspection says;
    against: its verdict, where its signer decided otherwise;
    sooner: as the trends put it forward, with why. amiss: why the latest one does not count. uncounted: of
    each `keep` since that one, which does not stand, why. inspections: latest first."""

    engine: str | None = None
    carried: tuple[SpellTold, ...] | None = None
    damper: str
    construction: str | None = None
    engines: tuple[SpellTold, ...]
    verdict: Verdict | None = None
    against: Verdict | None = None
    next_due: NextDue | None = None
    sooner: NextDue | None = None
    why_sooner: str | None = None
    amiss: str | None = None
    uncounted: tuple[str, ...] = ()
    checks: dict[str, CheckTold]
    inspections: tuple[LookedTold, ...]


class PartTold(Told):
    """One way to be due. earliest, latest: of a day that is predicted. said: all of it in a sentence."""

    by: Literal["distance", "hours", "calendar"]
    state: str
    day: date | None = None
    predicted: bool
    earliest: date | None = None
    latest: date | None = None
    said: str


class DueTold(Told):
    """Whether an engine is due. by: what makes it so, in words; predicted: whether the day is. drifting: by
    what its trend puts it forward. sentences: why, and what is amiss on record."""

    engine: str
    fleet: str
    damper: str | None = None
    state: Literal["overdue", "due", "unknown", "due-soon", "ok"]
    day: date | None = None
    predicted: bool
    by: str | None = None
    drifting: str | None = None
    parts: tuple[PartTold, ...]
    sentences: tuple[str, ...]


class DueList(Told):
    """All engines of the register, the most urgent first. notes: what is not in the register."""

    today: date
    method: str
    engines: tuple[DueTold, ...]
    notes: tuple[str, ...]


class FleetRow(Told):
    """An engine with the damper that is on it, or a damper by itself. due: of an engine of the register only.
    last: its latest inspection, on whatever engine. checks: the latest visit of each that was measured.
    drifting: by what its trend puts the next inspection forward. amiss: what cannot be told, and why."""

    engine: str | None = None
    fleet: str = ""
    damper: str | None = None
    due: DueTold | None = None
    last: LookedTold | None = None
    checks: dict[str, VisitTold]
    drifting: str | None = None
    amiss: tuple[str, ...] = ()


class Fleet(Told):
    """Every engine and every damper on record, the most urgent first."""

    today: date
    method: str
    rows: tuple[FleetRow, ...]
    notes: tuple[str, ...]


class SurfaceTold(Told):
    """A swept surface as it can be drawn. from_readings: else of the harmonics that the result states."""

    check: Surface
    outcome: MeasuredOutcome
    limit_mm: float
    figure_mm: float | None = None
    u_expanded_mm: float | None = None
    high_spot_deg: float | None = None
    angle_zero: AngleZero | None = None
    from_readings: bool
    angle_deg: tuple[float, ...]
    value_mm: tuple[float, ...]
