"""A damper's past as plain data: for `history --json`, and for the pages of a display."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING

from contract.result import ObservedCheck, ThicknessCheck
from display.web.recorded import (
    CheckTold,
    LinePoint,
    LookedTold,
    PastTold,
    PhotoTold,
    Place,
    SpellTold,
    TrendTold,
    VisitTold,
)
from grading.programme.series import day_of, order_of
from ringtrue.history_words import PER

if TYPE_CHECKING:
    from contract.result import Result
    from grading.programme.order import Place as Ranked
    from grading.programme.past import History, Spell
    from grading.programme.series import By, Heading, Visit
    from grading.programme.trend import Trend
    from grading.statistics.mixtures import Interval
    from ringtrue.pasts import Asked

LINE_POINTS = 33
"""Places at which a trend's line is told: its band is smooth."""


def past_told(serial: str, asked: Asked, history: History) -> PastTold:
    """All of it. serial: what was asked for."""
    return PastTold(
        engine=serial if asked.carried else None,
        carried=tuple(map(_spell, asked.carried)) or None,
        damper=history.damper,
        construction=history.construction,
        engines=tuple(map(_spell, history.engines)),
        verdict=history.verdict,
        against=history.against,
        next_due=history.next_due,
        sooner=history.sooner,
        why_sooner=history.why_sooner,
        amiss=history.amiss,
        uncounted=history.uncounted,
        checks={
            name: CheckTold(
                limit_mm=visits[-1].limit_mm,
                visits=tuple(map(visit_told, visits)),
                trend=_trend(heading, visits),
            )
            for name, (visits, heading) in history.checks.items()
        },
        inspections=tuple(
            looked_told(one, asked.order.contradicted, asked.uncounted)
            for one in latest_first(asked.results, asked.places)
        ),
    )


def latest_first(results: Sequence[Result], places: Mapping[str, Ranked]) -> list[Result]:
    """In the order of a list that is read from its top. places: as in `history_of`."""
    return sorted(results, key=lambda one: order_of(one, places), reverse=True)


def looked_told(result: Result, contradicted: Container[str], uncounted: Mapping[str, str]) -> LookedTold:
    """One inspection. contradicted: ids of those whose results contradict each other; uncounted: by its id
    why a `keep` does not stand."""
    thickness = result.checks.thickness
    return LookedTold(
        inspection=result.inspection,
        revision=result.revision,
        date=day_of(result),
        engine=result.engine.serial,
        scope=result.scope,
        state=result.state,
        verdict=result.verdict,
        decision=result.decision,
        closed=result.closed if result.state == "abandoned" else None,
        signed_by=result.signed_by,
        contradicted=True if result.inspection in contradicted else None,
        uncounted=uncounted.get(result.inspection),
        outcomes={name: check.outcome for name, check in result.checks.by_name().items()},
        warnings={name: check.warnings for name, check in result.checks.by_name().items() if check.warnings},
        stations=thickness.stations if isinstance(thickness, ThicknessCheck) else None,
        photos=tuple(_photos(result)),
    )


def visit_told(visit: Visit) -> VisitTold:
    """One check at one service."""
    data = asdict(visit)
    return VisitTold(date=data.pop("day"), **data)


def _photos(result: Result) -> Iterator[PhotoTold]:
    for name, check in result.checks.by_name().items():
        for item in check.items if isinstance(check, ObservedCheck) else ():
            for photo in item.photos or ():
                yield PhotoTold(file=photo.file, check=name, item=item.item, note=photo.note)


def _spell(spell: Spell) -> SpellTold:
    return SpellTold(**asdict(spell))


def _trend(heading: Heading, visits: Sequence[Visit]) -> TrendTold:
    by, trend = heading.by, heading.trend
    if trend is None:
        return TrendTold(by=by, why_by=heading.why_by, why_none=heading.why_none)
    per, rate, due = PER[by], trend.rate_mm(), heading.due
    scale = per / trend.unit
    return TrendTold(
        by=by,
        why_by=heading.why_by,
        latest=place_told(by, trend.last),
        interval=trend.unit,
        rate_per=per,
        rate_mm=_rounded(rate, scale),
        rising=heading.rising,
        met=place_told(by, heading.met),
        met_early=place_told(by, heading.met_early),
        due=place_told(by, due),
        at_due_mm=None if due is None else _rounded(trend.at_mm(due)),
        p_over_at_due=None if heading.p_due is None else round(heading.p_due, 6),
        line=tuple(_line(by, trend, heading, visits)),
    )


def _line(by: By, trend: Trend, heading: Heading, visits: Sequence[Visit]) -> Iterator[LinePoint]:
    """From the first visit that has the count to where the next is due, or one usual interval on."""
    places = [x for visit in visits if visit.figure_mm is not None and (x := visit.counter(by)) is not None]
    first, last = min(places), max(heading.due or 0.0, trend.last + trend.unit)
    steps = range(LINE_POINTS)
    for whole in dict.fromkeys(int(first + (last - first) * step / (LINE_POINTS - 1)) for step in steps):
        at = place_told(by, whole)
        assert at is not None
        median, low, high = _rounded(trend.at_mm(whole))
        yield LinePoint(at=at, median_mm=median, low_mm=low, high_mm=high)


def _rounded(found: Interval, scale: float = 1.0) -> tuple[float, float, float]:
    median, low, high = (round(value * scale, 6) for value in (found.median, found.low, found.high))
    return median, low, high


def place_told(by: By, x: float | None) -> Place | None:
    """A place of a count."""
    return None if x is None else date.fromordinal(int(x)) if by == "date" else float(int(x))
