"""Typed readings of a plain dial at a few stops of the crank."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from grading.evidence import F64, Sweep
from tests.grading.adverse.day import NEAR_AND_OVER_MM, Day, Mixed
from tests.grading.adverse.regime import Regime, Short
from tests.grading.adverse.surfaces import dents
from tests.grading.synthetic import Form

ANGLE_U_DEG = 2.0
STOPS = (12, 18, 24, 36)
NOISE_MM = 0.002


def typed(day: Day, form: Form, stops: int, *, extremes: bool = False) -> Sweep:
    """One turn read at evenly spaced stops, half of the times with the start once more at its end.

    extremes: the lowest and highest that the needle showed on the way to each stop are noted too.
    """
    day.use_gauge(0.01, 0.015)
    told: F64 = np.arange(stops + int(day.rng.random() < 0.5), dtype=np.float64) * (360 / stops)
    path = told + day.rng.normal(0, ANGLE_U_DEG, told.size)
    offset = day.rng.uniform(0, 1)

    def shown(at: F64) -> F64:
        value = day.instrument.sees(form, at) + day.rng.normal(0, NOISE_MM, at.size) + offset
        return np.asarray(np.round(value / 0.01) * 0.01)

    n = told.size
    value = shown(path)
    sweep = Sweep(day.surface, told, value, np.full(n, ANGLE_U_DEG), np.zeros(n), day.gauge)
    if not extremes:
        return sweep
    low, high = np.full(n, np.nan), np.full(n, np.nan)
    for i in range(1, n):
        # The ends belong to the way, and a needle that is watched shows its noise too.
        seen = np.append(shown(np.linspace(path[i - 1], path[i], 200)), value[i - 1 : i + 1])
        low[i], high[i] = seen.min(), seen.max()
    return replace(sweep, low_mm=low, high_mm=high)


def _stops(day: Day) -> int:
    return STOPS[day.number // 4 % len(STOPS)]


def dent_between(day: Day) -> Sequence[Sweep]:
    """A dent of 5 to 15 degrees and 12 to 36 stops: between two of them it is in no reading."""
    return [typed(day, dents(day, 1, 5, 15), _stops(day))]


def dent_any(day: Day) -> Sequence[Sweep]:
    """A dent of 1 to 15 degrees under 12 to 3 000 readings, either by its logarithm: below 60 at stops."""
    width, readings = day.log_uniform(1, 15), round(day.log_uniform(12, 3000))
    form = dents(day, 1, width, width)
    if readings < 60:
        return [typed(day, form, readings)]
    day.per_turn = readings
    return [day.read(day.take(form))]


def dent_with_extremes(day: Day) -> Sequence[Sweep]:
    """The same, with the needle watched on the way from stop to stop."""
    return [typed(day, dents(day, 1, 5, 15), _stops(day), extremes=True)]


def many_orders(day: Day) -> Sequence[Sweep]:
    """Orders 1 to 12 at 12 to 36 stops: up to half the stops' number they can be told, beyond it not."""
    return [typed(day, day.form(feature=False), _stops(day))]


def plunger_off(day: Day) -> Sequence[Sweep]:
    """The needle goes with nothing: half of the times a step either way now and then, else by chance (normal,
    0.4 to 1.1 steps); half of the times beside a creep of 2 to 5 steps over the turn."""
    sweep = typed(day, _smooth(day), _stops(day))
    n = sweep.angle_deg.size
    moves = day.rng.random(n) < day.rng.uniform(0.05, 0.5)
    steps = np.where(moves, day.rng.integers(-1, 2, n), 0).astype(np.float64)
    if day.rng.random() < 0.5:
        steps = np.round(day.rng.normal(0.0, day.rng.uniform(0.4, 1.1), n))
    if day.rng.random() < 0.5:
        steps += np.round(day.either() * day.rng.uniform(2, 5) * np.linspace(0, 1, n))
    return [replace(sweep, value_mm=steps * 0.01)]


def small(day: Day) -> Sequence[Sweep]:
    """A good damper, TIR 0.03 to 0.1 mm, whose needle hardly moves: it does follow."""
    day.truth_mm = day.log_uniform(0.03, 0.1)
    return [typed(day, _smooth(day), _stops(day))]


def _pencil(slip: Callable[[Day, F64], None]) -> Callable[[Day], Sequence[Sweep]]:
    def build(day: Day) -> Sequence[Sweep]:
        sweep = typed(day, _smooth(day), int(day.rng.integers(14, 38)))
        value = sweep.value_mm.copy()
        # A dial is set to about zero at the start.
        value -= value[0]
        slip(day, value)
        return [replace(sweep, value_mm=value)]

    return build


def _smooth(day: Day) -> Form:
    """Orders up to 3: what 14 stops can tell, so that the slip of the pencil is all that is amiss."""
    one, two, three = (day.rng.uniform(0, 360) for _ in range(3))
    second, third = day.rng.uniform(0, 0.3, 2)

    def form(angle: F64) -> F64:
        rad = np.deg2rad(angle)
        return np.asarray(
            np.cos(rad - one) + second * np.cos(2 * rad - two) + third * np.cos(3 * rad - three)
        )

    return Mixed(form, np.zeros_like, day.truth_mm)


def _off(day: Day, value: F64) -> None:
    """One value is off by a digit in some place: 0.1, 0.3, 0.9, 1, 10 or 100 mm."""
    at = int(day.rng.integers(value.size))
    value[at] += day.either() * float(day.rng.choice([0.1, 0.3, 0.9, 1, 10, 100]))


def _swapped(day: Day, value: F64) -> None:
    """Two neighbours are written in each other's place."""
    at = int(day.rng.integers(value.size - 1))
    value[[at, at + 1]] = value[[at + 1, at]]


def _sign(day: Day, value: F64) -> None:
    """The sign of one value is lost; of one that has a sign worth losing."""
    low = np.flatnonzero(value < -0.03)
    if low.size:
        at = int(day.rng.choice(low))
        value[at] = -value[at]
    else:
        at = int(np.argmax(value))
        value[at] = -value[at]


REGIMES = (
    Regime(
        "stops",
        "dents 5-15 deg at 12-36 stops",
        dent_between,
        can_be_seen=False,
        short=Short(
            "the dent lies between two stops: whoever keeps the same surfaces without it keeps 12 in 100",
            kept_max=0.10,
            covered_min=0.86,
        ),
    ),
    Regime(
        "stops",
        "dents 1-15 deg at 12-3000 readings",
        dent_any,
        can_be_seen=False,
        short=Short(
            "as those of 5 to 15 degrees at stops, and of 1 to 5 under few readings: it is in none of them",
            kept_max=0.10,
            covered_min=0.86,
        ),
    ),
    Regime("stops", "stops with needle extremes", dent_with_extremes),
    Regime("stops", "orders 1-12 at 12-36 stops", many_orders, can_be_seen=False),
    Regime("stops", "plunger off, at 12-36 stops", plunger_off, truths_mm=NEAR_AND_OVER_MM, covers=False),
    Regime("stops", "honest, small, at 12-36 stops", small, invalid_max=0.02),
    Regime("stops", "typed, one value off", _pencil(_off)),
    Regime("stops", "typed, neighbours swapped", _pencil(_swapped)),
    Regime("stops", "typed, a sign lost", _pencil(_sign)),
)
