"""What pages read from the records, as plain data, and who is asked for it.

Lengths are in millimetres, angles in degrees of the crank. Sentences are those of the method and the records,
in English.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Literal, Protocol

from pydantic import BaseModel, ConfigDict

from contract.result import NextDue, Result, StationPart
from contract.terms import AngleZero, Decision, MeasuredOutcome, Outcome, Scope, State, Surface, Verdict

if TYPE_CHECKING:
    from display.web.fleets import FleetTold

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
    """One inspection, as its latest revision tells it."""

    inspection: str
    revision: int
    date: date
    engine: str
    scope: Scope
    state: State
    verdict: Verdict
    decision: Decision | None = None
    signed_by: str | None = None
    outcomes: dict[str, Outcome]
    stations: tuple[StationPart, ...] | None = None
    photos: tuple[PhotoTold, ...] = ()


class PastTold(Told):
    """A damper's past, on whatever engine. engine, carried: where an engine was asked for, the dampers that
    it has carried, the last of which all else is of. next_due: as the latest inspection says; sooner: as the
    trends put it forward, with why. inspections: latest first."""

    engine: str | None = None
    carried: tuple[SpellTold, ...] | None = None
    damper: str
    construction: str | None = None
    engines: tuple[SpellTold, ...]
    verdict: Verdict | None = None
    next_due: NextDue | None = None
    sooner: NextDue | None = None
    why_sooner: str | None = None
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


@dataclass(frozen=True, slots=True)
class Paper:
    """A file to be read. stem: its name without its ending."""

    stem: str
    media_type: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Leaf:
    """Some of many documents, each as it is on record. next: what to ask with for those that follow; None:
    there are none."""

    documents: tuple[bytes, ...]
    next: str | None


class Archive(Protocol):
    """The records, read; nothing is changed by it. Every method blocks, is safe in any thread, and raises
    RingtrueError where the records are away or cannot be read. None: there is nothing of that name."""

    def due(self, today: date) -> DueList:
        """Which engines are due, and when the others will be."""

    def fleet(self, today: date) -> Fleet:
        """Every engine and damper: its latest figures, whether it is due, whether it drifts."""

    def compared(self) -> FleetTold:
        """Who drifts, which bay or gauge reads high, what each method came to."""

    def history(self, serial: str) -> PastTold | None:
        """The past of a damper, or of the last one that an engine has carried."""

    def surfaces(self, inspection: str) -> tuple[SurfaceTold, ...] | None:
        """Rim and face of an inspection, each as far as it can be drawn."""

    def report(self, inspection: str, unit: str) -> Paper | None:
        """The report of its latest revision, lengths in mm or in: a PDF, or a page where none can be made."""

    def picture(self, inspection: str) -> str | None:
        """Its surfaces as an SVG document; None also where none can be drawn."""

    def photo(self, file: str) -> bytes | None:
        """A photo (JPEG), by the name that a result gives it."""

    def documents(
        self, since: datetime | None, after: str | None, engine: str | None, damper: str | None, limit: int
    ) -> Leaf:
        """The latest revision of each inspection, oldest record first. after: `next` of the leaf before."""

    def document(self, inspection: str, revision: int | None) -> bytes | None:
        """One result document; revision: else the latest."""

    def calendar(self, now: datetime) -> bytes:
        """What is due, a day for each engine (RFC 5545)."""

    def result(self, inspection: str) -> Result | None:
        """Its result, as of the latest revision."""
