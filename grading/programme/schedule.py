"""When the next inspection is due: by distance, hours or calendar, whichever comes first."""

from __future__ import annotations

from calendar import monthrange
from datetime import date

from config.programme import Intervals
from contract.result import NextDue


def add_months(day: date, months: int) -> date:
    """The same day `months` later; the last of the month where that has fewer days."""
    years, month = divmod(day.month - 1 + months, 12)
    year = day.year + years
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def next_due(
    intervals: Intervals, *, inspected: date, distance_km: float | None, hours_h: float | None
) -> NextDue:
    """What the counters and the calendar will say when the next inspection is due.

    distance_km, hours_h: the counters at this inspection; where one is not known, its interval gives
    no figure. What the method does not limit gives none either.
    """

    def after(counter: float | None, interval: float | None) -> float | None:
        return None if counter is None or interval is None else counter + interval

    due = None if intervals.months is None else add_months(inspected, intervals.months).isoformat()
    return NextDue(
        distance_km=after(distance_km, intervals.distance_km),
        hours_h=after(hours_h, intervals.hours_h),
        date=due,
    )


def earlier(one: NextDue, other: NextDue) -> NextDue:
    """The earlier of the two by each count; what one does not tell is the other's."""

    def least(a: float | None, b: float | None) -> float | None:
        return min((value for value in (a, b) if value is not None), default=None)

    return NextDue(
        distance_km=least(one.distance_km, other.distance_km),
        hours_h=least(one.hours_h, other.hours_h),
        date=min((day for day in (one.date, other.date) if day is not None), default=None),
    )
