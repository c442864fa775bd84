"""What is on record of one engine: what `due` is made from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from contract.result import NextDue
from contract.terms import Construction, Decision, Family, State, Verdict
from grading.programme.counters import Reading
from grading.programme.order import Place, is_after, sorted_by


@dataclass(frozen=True, slots=True)
class Fitting:
    """A damper that was put on the engine."""

    day: date
    damper: str


def stands(state: State, ended: Verdict, *, was_closed: bool) -> bool:
    """Whether what an inspection came to counts: once it is closed. Where it was given up after that, a
    `replace` or a `measure-again` does all the same: what was found is not forgotten."""
    given_up = state == "abandoned" and was_closed and ended in ("replace", "measure-again")
    return state in ("closed", "signed") or given_up


@dataclass(frozen=True, slots=True)
class Inspected:
    """An inspection, as its result tells it. opened: with its zone; day: the day in UTC, as results have it.
    distance_km, hours_h: the counters as the technician opened it. decision: the signer's own, where it
    is not the verdict. place: among its bay's, where that is known. contested: the bays that issued results
    of it which contradict each other; only one of these is on record. was_closed: also where it was given up
    since. is_uncounted: it ended in keep, which does not stand."""

    id: str
    opened: datetime
    day: date
    damper: str
    state: State
    verdict: Verdict
    distance_km: float | None = None
    hours_h: float | None = None
    decision: Decision | None = None
    place: Place | None = None
    contested: str | None = None
    was_closed: bool = False
    is_uncounted: bool = False

    @property
    def ended(self) -> Verdict:
        """What it came to: a qualified person has the last word."""
        return self.decision or self.verdict

    @property
    def is_done(self) -> bool:
        """Closed or signed, and it counts: an open one may come to anything, an abandoned one came to
        nothing."""
        return self.state in ("closed", "signed") and not self.is_uncounted

    @property
    def is_found(self) -> bool:
        """Whether what it found of its damper stands: see `stands`."""
        return not self.is_uncounted and stands(self.state, self.ended, was_closed=self.was_closed)

    @property
    def order(self) -> tuple[datetime, int, str]:
        """By what inspections are put into an order."""
        return sorted_by(self.opened, self.place, self.id)

    def is_after(self, other: Inspected) -> bool:
        """Whether it was opened later for sure."""
        return is_after(self.opened, self.place, other.opened, other.place)


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to the engine. moment: until when it can have happened, with its zone; day:
    as recorded."""

    trigger: str
    day: date
    moment: datetime
    note: str = ""


@dataclass(frozen=True, slots=True)
class Forward:
    """When the trend of a damper's figures puts its next inspection forward: after which inspection, to when,
    and why."""

    inspection: str
    due: NextDue
    why: str


@dataclass(frozen=True, slots=True)
class EngineRecord:
    """One engine. Fittings, inspections and events in the order of their days.

    moved_to: the engine to which the last damper fitted here was moved; None where it is still here.
    family, construction: of the damper that is fitted, where they are known. elsewhere: its inspections on
    other engines. forward: where its trend puts
    the next inspection forward.
    """

    engine: str
    fleet: str = ""
    rating_kw: float | None = None
    fittings: tuple[Fitting, ...] = ()
    moved_to: str | None = None
    family: Family | None = None
    construction: Construction | None = None
    inspections: tuple[Inspected, ...] = ()
    elsewhere: tuple[Inspected, ...] = ()
    events: tuple[Event, ...] = ()
    distance_km: tuple[Reading, ...] = ()
    hours_h: tuple[Reading, ...] = ()
    forward: Forward | None = None

    @property
    def fitted(self) -> Fitting | None:
        """The damper that is on the engine; None where none is on record."""
        return self.fittings[-1] if self.fittings and self.moved_to is None else None

    def until(self, today: date) -> tuple[EngineRecord, list[Inspected]]:
        """The record without inspections of days that have not come, and those: a bay's clock was wrong. What
        condemns, or was to be measured again, stays: that it was found does not hang on a clock."""
        last = today + timedelta(days=1)  # UTC may be a day ahead of the workshop
        ahead = [one for one in self.inspections if one.day > last]
        ids = {one.id for one in ahead}

        def counts(one: Inspected) -> bool:
            return one.day <= last or one.ended in ("replace", "measure-again")

        return replace(
            self,
            inspections=tuple(filter(counts, self.inspections)),
            elsewhere=tuple(filter(counts, self.elsewhere)),
            distance_km=tuple(one for one in self.distance_km if one.inspection not in ids),
            hours_h=tuple(one for one in self.hours_h if one.inspection not in ids),
        ), ahead
