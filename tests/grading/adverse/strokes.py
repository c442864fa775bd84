"""A crank barred in strokes with stops, as it is: marks pressed where it stands, tags made by the tagger."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from grading.evidence import F64, Sweep
from tests.acquire.turns import Hand, log_uniform
from tests.grading.adverse.contact import hold
from tests.grading.adverse.day import NEAR_AND_OVER_MM, Day, Take, away_deg
from tests.grading.adverse.marks import MARK_U_DEG, PER_TURN, Presses, pressed
from tests.grading.adverse.regime import Regime, Short
from tests.grading.synthetic import SurfaceShape

READINGS_MAX = 6_000


def _barred(day: Day) -> tuple[SurfaceShape, Take, float, Presses]:
    """Strokes, rests, a little back; pauses of 1 s to a minute at the marks."""
    rng, form = day.rng, day.form()
    spacing = 360 / int(rng.choice(PER_TURN))
    hand = Hand(rng)
    hand.wait(1.5)
    presses = [(0.7, 0)]
    for number, mark in enumerate(np.arange(spacing, 361, spacing), start=1):
        hand.stroke_to(float(mark) + rng.normal(0, MARK_U_DEG))
        arrived, pause = hand.t[-1], log_uniform(rng, 1, 60)
        hand.wait(pause)
        presses.append((arrived + rng.uniform(0.2, 0.9 * min(pause, 5)), number))
    seconds: F64 = np.arange(0, hand.t[-1], 1 / log_uniform(rng, 5, 50))
    if seconds.size > READINGS_MAX:
        seconds = np.linspace(0, hand.t[-1], READINGS_MAX)
    day.source = "encoder"  # whose angles are true; what is told of them comes of the events
    take = day.take(form, np.interp(seconds, hand.t, hand.a))
    take.time_s = seconds
    return form, take, spacing, presses


def honest(day: Day) -> Sequence[Sweep]:
    """Nothing amiss."""
    _, take, spacing, presses = _barred(day)
    return [pressed(day, spacing, take, presses)]


def end_of_travel(day: Day) -> Sequence[Sweep]:
    """The plunger meets its stop: of the range of the values 55 to 92 % remain, cut at the top or bottom."""
    return _cut(day, 0.55, 0.92)


def _cut(day: Day, least: float, most: float) -> Sequence[Sweep]:
    _, take, spacing, presses = _barred(day)
    total = take.value + take.noise
    low, high = float(total.min()), float(total.max())
    remains = day.rng.uniform(least, most) * (high - low)
    low, high = (low, low + remains) if day.either() > 0 else (high - remains, high)
    take.value, take.noise = np.clip(total, low, high), np.zeros(take.size)
    return [pressed(day, spacing, take, presses)]


def cut_deep(day: Day) -> Sequence[Sweep]:
    """The same with 30 to 55 % left."""
    return _cut(day, 0.30, 0.55)


def stuck_at_crest(day: Day) -> Sequence[Sweep]:
    """It sticks on the way up and comes free past the highest place."""
    form, take, spacing, presses = _barred(day)
    dense = np.arange(0, 360, 0.05)
    end, half = float(dense[np.argmax(form(dense))]), day.rng.uniform(20, 40)
    hold(take, away_deg(take.path, end + day.rng.uniform(-0.5, 0.5) * half) < half)
    return [pressed(day, spacing, take, presses)]


def stuck_arc(day: Day) -> Sequence[Sweep]:
    """It sticks for 40 to 80 degrees anywhere, then jumps back to the surface."""
    _, take, spacing, presses = _barred(day)
    begin, width = day.rng.uniform(5, 275), day.rng.uniform(40, 80)
    hold(take, (take.path >= begin) & (take.path < begin + width))
    return [pressed(day, spacing, take, presses)]


def pressed_twice(day: Day) -> Sequence[Sweep]:
    """A mark is pressed a second time while the crank still stands there: what is told as a whole turn is one
    spacing short."""
    _, take, spacing, presses = _barred(day)
    at = int(day.rng.integers(1, len(presses) - 1))
    again = presses[at][0] + day.rng.uniform(0.1, 0.8)
    told = [*presses[: at + 1], (again, at + 1), *((t, n + 1) for t, n in presses[at + 1 :])]
    return [pressed(day, spacing, take, told)]


# The interval is the read surface's own; that it may hide more is said beside it, and keeps it from `within`.
HELD = Short("a crank that stands and a plunger that is held look the same", covered_min=0.05)

REGIMES = (
    Regime("strokes", "strokes, exact", honest),
    Regime("strokes", "strokes, end of travel", end_of_travel, truths_mm=NEAR_AND_OVER_MM, short=HELD),
    Regime("strokes", "strokes, cut deep", cut_deep, truths_mm=NEAR_AND_OVER_MM, short=HELD),
    Regime("strokes", "strokes, stuck at the crest", stuck_at_crest, short=HELD),
    Regime("strokes", "strokes, stuck anywhere", stuck_arc, short=HELD),
    Regime("strokes", "strokes, pressed twice", pressed_twice),
)
