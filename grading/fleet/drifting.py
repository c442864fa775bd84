"""Which dampers drift: those whose figures grow, by when the limit is met."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from grading.fleet.looked import Looked
from grading.programme.series import MEASURED, UNITS, Heading, Visit, heading_of

AHEAD = 1.0
"""Usual intervals within which a limit may be met that is told of; further off nothing is known yet."""


@dataclass(frozen=True, slots=True)
class Drift:
    """One check of one damper. early: in how many usual intervals after its latest figure the chance of being
    over comes to 5 %; met: to one half; None where that is not in sight. day_early, day: the same as days, at
    the pace from its first figure to its latest. uncounted: of each `keep` since the latest inspection whose
    end counts, which does not stand, why."""

    damper: str
    check: str
    latest: Visit
    services: int
    heading: Heading
    early: float | None
    met: float | None
    day_early: date | None
    day: date | None
    uncounted: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Drifts:
    """rows: the nearest to its limit first. dampers: how many have a trend; once: how many were read once and
    have none."""

    rows: tuple[Drift, ...]
    dampers: int
    once: int


def drifts_of(looked: Iterable[Looked]) -> Drifts:
    """Every damper whose figure grows beyond doubt, or whose limit may be met within one usual interval. The
    limit is that of its latest inspection. looked: in the order in which they were opened. Of one that was
    given up no figure counts; what it found does, as in the damper's history."""
    by_damper: dict[str, list[Looked]] = {}
    for one in looked:
        if not one.is_given_up or one.is_found:
            by_damper.setdefault(one.damper, []).append(one)
    rows: list[Drift] = []
    have, once = 0, 0
    for those in by_damper.values():
        found = [drift for check in MEASURED if (drift := _drift(those, check)) is not None]
        have, once = have + bool(found), once + (not found)
        rows += filter(_tells, found)
    rows.sort(key=lambda row: (_or_last(row.early), _or_last(row.met), row.damper, row.check))
    return Drifts(tuple(rows), have, once)


def _tells(row: Drift) -> bool:
    return row.heading.rising or (row.early is not None and row.early <= AHEAD)


def _or_last(intervals: float | None) -> float:
    return float("inf") if intervals is None else intervals


def _drift(those: Sequence[Looked], check: str) -> Drift | None:
    visits = [one.visits[check] for one in those if check in one.visits and not one.is_given_up]
    if not visits:
        return None
    found = [one for one in those if one.is_found]
    done = [one for one in found if one.uncounted is None]
    heading = heading_of(visits, done[-1].next_due if done and done[-1].ended == "keep" else None)
    if heading.trend is None:
        return None
    told = [visit for visit in visits if visit.figure_mm is not None]
    early, met = (_intervals(heading, x) for x in (heading.met_early, heading.met))
    pace = list(_pace(told, heading))
    day_early, day = (_day(told[-1].day, x, pace) for x in (early, met))
    since = found[found.index(done[-1]) + 1 :] if done else found
    why = tuple(one.uncounted for one in since if one.uncounted is not None)
    return Drift(those[0].damper, check, told[-1], len(told), heading, early, met, day_early, day, why)


def _intervals(heading: Heading, x: float | None) -> float | None:
    return None if x is None or heading.trend is None else (x - heading.trend.last) / UNITS[heading.by]


def _pace(told: Sequence[Visit], heading: Heading) -> Iterator[float]:
    """Days for one usual interval, where any have passed."""
    days = (told[-1].day - told[0].day).days
    first, last = (visit.counter(heading.by) for visit in (told[0], told[-1]))
    if days > 0 and first is not None and last is not None and last > first:
        yield days / (last - first) * UNITS[heading.by]


def _day(latest: date, intervals: float | None, pace: Sequence[float]) -> date | None:
    if intervals is None or not pace:
        return None
    ordinal = latest.toordinal() + intervals * pace[0]
    return date.fromordinal(int(ordinal)) if ordinal < date.max.toordinal() else None
