"""A counter that only goes up: which of its readings hold, how fast it runs, when it will show a value.

Between readings it comes on by a steady pace and chance: the increment over `d` days has the mean `pace * d`
and the variance `spread * d`. That is a random walk with drift; its least-squares pace is the whole way over
the whole time. The forecast and its variance are those of the drift method (Hyndman and Athanasopoulos,
Forecasting: principles and practice, section 5.2 and the table of section 5.5, from memory), for readings
at any distance in time.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from grading.statistics.distributions import t_quantile

DAYS_MAX = 20 * 365
"""Further off nobody plans by a counter's pace."""
PACE_DAYS_LEAST = 5
"""Days from the first reading to the last: nearer together they tell of a night or a repair, not of its use.
Our own choice, no source."""
FREEDOM_LEAST = 2
"""With fewer degrees of freedom an interval says nothing that a workshop could use."""


@dataclass(frozen=True, slots=True)
class Reading:
    """value: km or h. inspection: whose it is; None for one of the register."""

    day: date
    value: float
    inspection: str | None = None


@dataclass(frozen=True, slots=True)
class Series:
    """Readings in the order of their days that never fall.

    left_out: those of inspections that the register's contradict. fall: the first two that contradict each
    other without either being the register's word against an inspection's; nothing is told from such a
    series, and it is empty.
    """

    readings: tuple[Reading, ...]
    left_out: tuple[Reading, ...] = ()
    fall: tuple[Reading, Reading] | None = None

    def until(self, day: date) -> Reading | None:
        """The last reading on or before a day."""
        return next((one for one in reversed(self.readings) if one.day <= day), None)


def series_of(readings: Iterable[Reading]) -> Series:
    """The readings that hold, one for each day: its highest."""
    ordered = sorted(readings, key=lambda one: (one.day, one.value))
    own = [one for one in ordered if one.inspection is None]
    kept: list[Reading] = []
    left_out: list[Reading] = []
    for one in ordered:
        fits = one.inspection is None or not any(_fall(one, other) for other in own)
        (kept if fits else left_out).append(one)
    fall = next(((a, b) for a, b in pairwise(kept) if b.value < a.value and a.day < b.day), None)
    if fall is not None:
        return Series((), tuple(left_out), fall)
    by_day = {one.day: one for one in kept}
    return Series(tuple(by_day.values()), tuple(left_out))


def _fall(one: Reading, other: Reading) -> bool:
    """Whether the later of the two is the lower."""
    return (one.day - other.day).days * (one.value - other.value) < 0.0


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast a counter runs. per_day: km or h a day. spread: variance of a day's way about it; None where
    too few readings tell. days: over how many days; freedom: of the spread."""

    per_day: float
    spread: float | None
    days: float
    freedom: int


def pace_of(readings: Sequence[Reading], window_days: int) -> Pace | None:
    """From the readings of the last `window_days` before the last one, or from all where those are too near
    together.

    readings: as a Series has them. None where all lie within fewer days than PACE_DAYS_LEAST.
    """
    if not readings:
        return None
    since = readings[-1].day - timedelta(days=window_days)
    within = [one for one in readings if one.day >= since]
    used = next((some for some in (within, readings) if _days_of(some) >= PACE_DAYS_LEAST), None)
    if used is None:
        return None
    steps = [(float((b.day - a.day).days), b.value - a.value) for a, b in pairwise(used)]
    days = math.fsum(d for d, _ in steps)
    per_day = (used[-1].value - used[0].value) / days
    freedom = len(steps) - 1
    spread = None
    if freedom >= FREEDOM_LEAST:
        spread = math.fsum((way - per_day * d) ** 2 / d for d, way in steps) / freedom
    return Pace(per_day, spread, days, freedom)


def _days_of(readings: Sequence[Reading]) -> int:
    return (readings[-1].day - readings[0].day).days


@dataclass(frozen=True, slots=True)
class Reached:
    """When a counter shows a value: the likely day, and within what days at the coverage asked for.

    None: not within `DAYS_MAX`; for earliest and latest also where no interval can be told.
    """

    day: date | None
    earliest: date | None = None
    latest: date | None = None


def reached(last: Reading, pace: Pace, value: float, coverage: float) -> Reached:
    """When the counter will show `value`, which lies above its last reading.

    The interval holds each time h at which the forecast's own interval holds the value (inverse prediction):
    (need - pace h)^2 <= t^2 spread (h + h^2 / days), a quadratic in h.
    """
    need = value - last.value
    day = _after(last.day, need / pace.per_day) if pace.per_day > 0.0 else None
    if pace.spread is None:
        return Reached(day)
    c = t_quantile(0.5 * (1.0 + coverage), pace.freedom) ** 2 * pace.spread
    a = pace.per_day**2 - c / pace.days
    b = 2.0 * need * pace.per_day + c
    root = math.sqrt(max(0.0, b * b - 4.0 * a * need * need))
    earliest = _after(last.day, 2.0 * need * need / (b + root)) if b > 0.0 else None
    latest = _after(last.day, (b + root) / (2.0 * a)) if a > 0.0 else None
    return Reached(day, earliest, latest)


def _after(day: date, days: float) -> date | None:
    """The day on which so much time is up, told early rather than late."""
    return day + timedelta(days=math.floor(days)) if days <= DAYS_MAX else None
