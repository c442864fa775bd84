"""The plunger does not follow the surface."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from grading.evidence import F64, Sweep
from tests.grading.adverse.day import NEAR_AND_OVER_MM, Day, Take, away_deg
from tests.grading.adverse.regime import Regime, Short

Bools = NDArray[np.bool_]


def _still(day: Day, steps: F64, take: Take) -> Sequence[Sweep]:
    """A gauge that moves by whole steps of its display only, whatever the surface does."""
    take.value = steps * day.gauge.resolution_mm
    take.noise = np.zeros(take.size)
    return [day.read(take)]


def dead(day: Day) -> Sequence[Sweep]:
    """The plunger is off the surface or locked: one value all through."""
    take = day.take(day.form())
    return _still(day, np.zeros(take.size), take)


def flicker(day: Day) -> Sequence[Sweep]:
    """The same with a last digit that flickers by one either way."""
    take = day.take(day.form())
    return _still(day, day.rng.integers(-1, 2, take.size).astype(np.float64), take)


def creep(day: Day) -> Sequence[Sweep]:
    """The same with a slow creep of 2 to 5 digits over the sweep."""
    take = day.take(day.form())
    flicker = day.rng.integers(-1, 2, take.size) * (day.rng.random(take.size) < day.rng.uniform(0.05, 0.5))
    slope = day.either() * day.rng.uniform(2, 5) * np.linspace(0, 1, take.size)
    return _still(day, np.round(slope) + flicker, take)


def end_of_travel(day: Day) -> Sequence[Sweep]:
    """The plunger meets its stop: of the range of the values 55 to 92 % remain, cut at the top or bottom."""
    return _cut(day, 0.55, 0.92)


def cut_deep(day: Day) -> Sequence[Sweep]:
    """The same with 30 to 55 % left."""
    return _cut(day, 0.30, 0.55)


def _cut(day: Day, least: float, most: float) -> Sequence[Sweep]:
    take = day.take(day.form())
    total = take.value + take.noise
    share = day.rng.uniform(least, most)
    low, high = float(total.min()), float(total.max())
    if day.either() > 0:
        high = low + share * (high - low)
    else:
        low = high - share * (high - low)
    take.value, take.noise = np.clip(total, low, high), np.zeros(take.size)
    return [day.read(take)]


def hold(take: Take, held: Bools) -> None:
    """Where held, the value stays at what it was when that spell began."""
    total = take.value + take.noise
    last = np.maximum.accumulate(np.where(held, -1, np.arange(take.size)))
    take.value, take.noise = total[np.maximum(last, 0)], np.zeros(take.size)


def stuck_arc(day: Day) -> Sequence[Sweep]:
    """The plunger sticks for 40 to 80 degrees anywhere, then jumps back to the surface."""
    take = day.take(day.form())
    begin, width = day.rng.uniform(5, 275), day.rng.uniform(40, 80)
    hold(take, (take.path >= begin) & (take.path < begin + width))
    return [day.read(take)]


def stuck_at_crest(day: Day) -> Sequence[Sweep]:
    """It sticks on the way up and comes free past the highest place; half of the times so at the lowest too.

    Where it comes free at the height at which it stuck there is no jump: the values that stand still while
    the crank turns are all that shows it.
    """
    form = day.form()
    take = day.take(form)
    dense = np.arange(0, 360, 0.05)
    values = form(dense)
    ends = [float(dense[np.argmax(values)])]
    if day.either() > 0:
        ends.append(float(dense[np.argmin(values)]))
    where = np.zeros(take.size, dtype=bool)
    for end in ends:
        half = day.rng.uniform(20, 40)
        where |= away_deg(take.path, end + day.rng.uniform(-0.5, 0.5) * half) < half
    hold(take, where)
    return [day.read(take)]


# Orders up to 12 may make a crest as flat as that within a step of the display: of what passes for one,
# little is covered, and some is kept.
CUT = Short(
    "what stands is as wide as a sound crest on a coarse display; told noise, angles and family an oracle "
    "keeps 1 in 100",
    kept_max=0.03,
    covered_min=0.25,
)
# The interval is the read surface's own; that more may be cut off is said, and keeps it from `within`.
CUT_DEEP = Short("what is cut off is in no reading", covered_min=0.05)
FLAT = Short(
    "told the size of every order too an oracle keeps none; on a coarse display a flat crest looks the same",
    kept_max=0.04,
    covered_min=0.25,
)

REGIMES = (
    Regime("contact", "dead", dead, truths_mm=NEAR_AND_OVER_MM),
    Regime("contact", "flicker", flicker, truths_mm=NEAR_AND_OVER_MM),
    Regime("contact", "creep", creep, truths_mm=NEAR_AND_OVER_MM),
    Regime("contact", "end of travel", end_of_travel, truths_mm=NEAR_AND_OVER_MM, short=CUT),
    Regime("contact", "cut deep", cut_deep, truths_mm=NEAR_AND_OVER_MM, short=CUT_DEEP),
    Regime("contact", "stuck arc", stuck_arc, short=FLAT),
    Regime("contact", "stuck at a crest", stuck_at_crest, short=FLAT),
)
