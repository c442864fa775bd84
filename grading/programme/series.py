"""The figures of one damper over its services, from results, and by what they are counted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Literal

from contract.result import NextDue, Result, SurfaceCheck, ThicknessCheck
from contract.terms import MeasuredOutcome
from grading.programme.order import Place, sorted_by
from grading.programme.trend import Figure, Trend, standard_u_mm, trend_of

By = Literal["hours_h", "distance_km", "date"]

UNITS: dict[By, float] = {"hours_h": 3_000.0, "distance_km": 200_000.0, "date": 365.25}
"""One usual interval between inspections (days for the calendar): common practice, no source."""

NOWHERE: Mapping[str, Place] = {}

MEASURED = ("rim", "face", "thickness")

EARLY = 0.05
"""The limit may be met from where the chance of it comes to this: the early end, one-sided 95 %."""
SOONEST = 0.25
"""A damper just found within is not asked for again before this share of its interval has passed: our own
choice, no source."""


@dataclass(frozen=True, slots=True)
class Visit:
    """One service's check. day: on which the inspection was opened. figure_mm, u_expanded_mm: of the true
    figure; None where the check gave none that counts."""

    inspection: str
    day: date
    engine: str
    distance_km: float | None
    hours_h: float | None
    outcome: MeasuredOutcome
    limit_mm: float
    figure_mm: float | None = None
    u_expanded_mm: float | None = None
    coverage: float = 0.95
    gauge: str | None = None

    def counter(self, by: By) -> float | None:
        """What it is counted by; a date in days."""
        return {
            "hours_h": self.hours_h, "distance_km": self.distance_km, "date": float(self.day.toordinal()),
        }[by]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Heading:
    """Where one check is heading. by: what it is counted by; why_by: why by the calendar, where it is.
    trend: None with why_none. due: where the next inspection is due by the same count, p_due: the chance of
    being over there; met, met_early: where the limit is met (median; where its chance comes to EARLY), None
    where that is not in sight. rising: whether the slope's interval leaves out none."""

    by: By
    why_by: str | None = None
    trend: Trend | None = None
    why_none: str | None = None
    rising: bool = False
    due: float | None = None
    p_due: float | None = None
    met: float | None = None
    met_early: float | None = None


def order_of(result: Result, places: Mapping[str, Place]) -> tuple[datetime, int, str]:
    """By what results are put into an order."""
    return sorted_by(datetime.fromisoformat(result.opened), places.get(result.inspection), result.inspection)


def visits_of(
    results: Sequence[Result], check: str, places: Mapping[str, Place] = NOWHERE
) -> tuple[Visit, ...]:
    """That check at every inspection that made it, oldest first. An abandoned inspection is none; a check
    that is missing is not made, and one that is invalid has no figure. places: as in `history_of`."""
    found = [
        (order_of(result, places), visit)
        for result in results
        if result.state != "abandoned" and (visit := visit_of(result, check)) is not None
    ]
    return tuple(visit for _, visit in sorted(found, key=lambda pair: pair[0]))


def visit_of(result: Result, check: str) -> Visit | None:
    """That check at one inspection, given up or not; None where it did not make it."""
    part = result.checks.by_name().get(check)
    if not isinstance(part, SurfaceCheck | ThicknessCheck) or part.outcome == "missing":
        return None
    figure = part.true_tir_mm if isinstance(part, SurfaceCheck) else part.true_spread_mm
    counts = part.outcome != "invalid" and figure is not None and part.u_expanded_mm is not None
    return Visit(
        inspection=result.inspection,
        day=day_of(result),
        engine=result.engine.serial,
        distance_km=result.engine.distance_km,
        hours_h=result.engine.hours_h,
        outcome=part.outcome,
        limit_mm=part.limit_mm,
        figure_mm=figure if counts else None,
        u_expanded_mm=part.u_expanded_mm if counts else None,
        coverage=part.coverage or 0.95,
        gauge=part.gauge.id if part.gauge is not None else None,
    )


def day_of(result: Result) -> date:
    """The day on which an inspection was opened, UTC."""
    return datetime.fromisoformat(result.opened).astimezone(UTC).date()


def counted_by(visits: Sequence[Visit]) -> tuple[By, str | None]:
    """By what these are best counted, and why by the calendar where it comes to that: engine hours, else
    distance, where every one has it, on one engine, and it never falls."""
    if len({visit.engine for visit in visits}) > 1:
        return "date", "it was on more than one engine, whose counters do not add up"
    known: tuple[By, ...] = ("hours_h", "distance_km")
    falls = False
    for by in known:
        counters = [counter for visit in visits if (counter := visit.counter(by)) is not None]
        if len(counters) == len(visits):
            if counters == sorted(counters):
                return by, None
            falls = True
    if falls:
        return "date", "a counter has fallen from one service to the next: a slip, or another counter"
    return "date", "neither hours nor distance is known of every service"


def heading_of(visits: Sequence[Visit], due: NextDue | None) -> Heading:
    """Where a check is heading, from all its visits; limits are the latest one's."""
    told = [visit for visit in visits if visit.figure_mm is not None and visit.u_expanded_mm is not None]
    if not told:
        return Heading("date", why_none="no service has a figure that counts")
    by, why_by = counted_by(told)
    figures = [
        Figure(
            visit.counter(by) or 0.0,
            visit.figure_mm or 0.0,
            standard_u_mm(visit.u_expanded_mm or 0.0, visit.coverage),
        )
        for visit in told
    ]
    trend = trend_of(figures, UNITS[by])
    if trend is None:
        return Heading(by, why_by, why_none="one service does not make one, the next one will")
    limit_mm, rate = visits[-1].limit_mm, trend.rate_mm()
    rising = rate.low > 0
    at = due_by(due, by)
    return Heading(
        by,
        why_by,
        trend,
        rising=rising,
        due=at,
        p_due=None if at is None else trend.p_over(at, limit_mm),
        met=trend.reached(limit_mm, 0.5) if rising else None,
        met_early=trend.reached(limit_mm, EARLY),
    )


def due_by(due: NextDue | None, by: By) -> float | None:
    """When the next inspection is due by this count; None where that is not said."""
    if due is None:
        return None
    if by == "date":
        return None if due.date is None else float(date.fromisoformat(due.date).toordinal())
    return due.hours_h if by == "hours_h" else due.distance_km


def shortened(
    due: NextDue, headings: Mapping[str, Heading], since: Mapping[By, float | None]
) -> tuple[NextDue, str | None]:
    """When the next inspection is due with the trends heard too: the same, or earlier with its reason.

    headings: by check. since: the counters at the inspection that said what is due. Where a limit may be met
    (EARLY) before the next is due (or, where nothing is due by that count, within one usual interval), the
    earliest such place counts, but no sooner than SOONEST of the interval.
    """
    best: tuple[float, str, By, float] | None = None
    for check, heading in headings.items():
        early, start, by = heading.met_early, since[heading.by], heading.by
        if early is None or start is None:
            continue
        at = due_by(due, by)
        interval = UNITS[by] if at is None else at - start
        share = max((early - start) / interval, SOONEST) if interval > 0 else 1.0
        if share < 1.0 and (best is None or share < best[0]):
            best = share, check, by, start + share * interval
    if best is None:
        return due, None
    share, check, by, sooner = best
    value = date.fromordinal(int(sooner)).isoformat() if by == "date" else float(int(sooner))
    chance = f"its chance of being over comes to {EARLY * 100:g} %"
    when = "before the interval ends"
    if share <= SOONEST:
        when = "before a quarter of the interval is over, the soonest that it is asked for again"
    return due.model_copy(update={by: value}), f"{check}: {chance} {when}"
