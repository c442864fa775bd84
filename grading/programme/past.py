"""A damper's past: on which engines, what each service read, where that is heading, when it is due."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from contract.result import NextDue, Result
from contract.terms import Verdict
from grading.programme.order import Place, contradicted
from grading.programme.record import Forward, stands
from grading.programme.series import (
    MEASURED,
    NOWHERE,
    By,
    Heading,
    Visit,
    day_of,
    heading_of,
    order_of,
    shortened,
    visits_of,
)

NONE: Mapping[str, str] = {}


@dataclass(frozen=True, slots=True)
class Spell:
    """A damper on an engine, or the other way round: the serial of the other, its first and last day on
    record, and how many inspections."""

    serial: str
    first: date
    last: date
    inspections: int


@dataclass(frozen=True, slots=True)
class History:
    """engines: in the order in which it came to them. checks: those that were made, with where each is
    heading. latest: the latest inspection whose end counts; verdict: its own, or its signer's decision.
    against: that one's verdict, where its signer decided otherwise. next_due: as it says, where it was kept;
    sooner: earlier than that by the trends, with why. amiss: why the latest does not count, where other
    results of it were issued. uncounted: of each `keep` since that one, which does not stand, why."""

    damper: str
    construction: str | None
    engines: tuple[Spell, ...]
    checks: dict[str, tuple[tuple[Visit, ...], Heading]]
    latest: str | None
    verdict: Verdict | None
    next_due: NextDue | None
    sooner: NextDue | None = None
    why_sooner: str | None = None
    amiss: str | None = None
    uncounted: tuple[str, ...] = ()
    against: Verdict | None = None


def history_of(
    results: Sequence[Result],
    places: Mapping[str, Place] = NOWHERE,
    contested: Mapping[str, str] = NONE,
    uncounted: Mapping[str, str] = NONE,
) -> History:
    """The history of one damper, from the latest revision of each of its inspections, one at least. places:
    of these among their bays', where that is known; contested: as in `Inspected`, by the inspection's id;
    uncounted: the same of each `keep` that does not stand, why."""
    told = _told(results, places)
    found = [one for one in sorted(results, key=lambda one: order_of(one, places)) if is_found(one)]
    done = [one for one in found if one.inspection not in uncounted]
    since = found[found.index(done[-1]) + 1 :] if done else found
    verdict = (done[-1].decision or done[-1].verdict) if done else None
    against = done[-1].verdict if done and done[-1].verdict != verdict else None
    bays = contested.get(done[-1].inspection) if done else None
    due = done[-1].next_due if verdict == "keep" and bays is None else None
    checks = {}
    for check in MEASURED:
        visits = visits_of(told, check, places)
        if visits:
            checks[check] = visits, heading_of(visits, due)
    sooner, why = None, None
    if due is not None:
        headings = {name: heading for name, (_, heading) in checks.items()}
        sooner, why = shortened(due, headings, _counters(done[-1]))
    known = [one.damper.construction for one in told if one.damper.construction is not None]
    return History(
        damper=results[0].damper.serial,
        construction=known[-1] if known else None,
        engines=_spells([(one.engine.serial, day_of(one)) for one in told]),
        checks=checks,
        latest=done[-1].inspection if done else None,
        verdict=verdict,
        next_due=due,
        sooner=sooner if why else None,
        why_sooner=why,
        amiss=contradicted(done[-1].inspection, bays) if bays is not None else None,
        uncounted=tuple(uncounted[one.inspection] for one in since),
        against=against,
    )


def forward_of(history: History) -> Forward | None:
    """Whether the trend of a damper's figures puts its next inspection forward, and to when."""
    if history.latest is None or history.sooner is None or history.why_sooner is None:
        return None
    return Forward(history.latest, history.sooner, history.why_sooner)


def _counters(result: Result) -> dict[By, float | None]:
    engine = result.engine
    day = float(day_of(result).toordinal())
    return {"hours_h": engine.hours_h, "distance_km": engine.distance_km, "date": day}


def is_found(one: Result) -> bool:
    """Whether what it came to counts: see `stands`."""
    return stands(one.state, one.decision or one.verdict, was_closed=one.closed is not None)


def _told(results: Sequence[Result], places: Mapping[str, Place]) -> list[Result]:
    told = (one for one in results if one.state != "abandoned")
    return sorted(told, key=lambda one: order_of(one, places))


def carried_by(results: Sequence[Result], places: Mapping[str, Place] = NOWHERE) -> tuple[Spell, ...]:
    """The dampers of one engine, the one inspected there last at the end. places: as in `history_of`."""
    there = (one for one in results if one.state != "abandoned" or is_found(one))
    told = sorted(there, key=lambda one: order_of(one, places))
    last = {one.damper.serial: number for number, one in enumerate(told)}
    return tuple(
        sorted(_spells([(one.damper.serial, day_of(one)) for one in told]), key=lambda s: last[s.serial])
    )


def _spells(seen: Sequence[tuple[str, date]]) -> tuple[Spell, ...]:
    """One for each serial, in the order of first sight; seen: oldest first."""
    days: dict[str, list[date]] = {}
    for serial, day in seen:
        days.setdefault(serial, []).append(day)
    return tuple(Spell(serial, min(each), max(each), len(each)) for serial, each in days.items())
