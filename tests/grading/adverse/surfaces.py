"""Surfaces of other forms than a few harmonics and a dent."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from grading.evidence import F64, Sweep
from tests.grading.adverse.day import Day, Mixed, away_deg
from tests.grading.adverse.regime import Regime, Short


def high_orders(day: Day) -> Sequence[Sweep]:
    """One or two orders of 21 to 60, 3 to 40 um of amplitude, on an eccentric: a toothed or bolted rim.

    Readings enough to tell them from noise: 4 or more to a wave.
    """
    waves = [
        (int(day.rng.integers(21, 61)), day.log_uniform(0.003, 0.040), day.rng.uniform(0, 360))
        for _ in range(int(day.rng.integers(1, 3)))
    ]

    def extra(angle: F64) -> F64:
        return np.asarray(sum(a * np.cos(k * np.deg2rad(angle - p)) for k, a, p in waves))

    day.per_turn = max(day.per_turn, 4 * max(k for k, _, _ in waves))
    return [day.read(day.take(day.on_eccentric(extra)))]


def notches(day: Day) -> Sequence[Sweep]:
    """12 to 60 evenly spaced notches, 1.5 to 5 degrees wide, 0.02 to 0.1 mm deep, steep-sided."""
    count = int(day.rng.integers(12, 61))
    width = min(day.rng.uniform(1.5, 5), 0.7 * 360 / count)
    depth, first = day.log_uniform(0.02, 0.1), day.rng.uniform(0, 360)

    def extra(angle: F64) -> F64:
        spacing = 360 / count
        d = np.abs((angle - first + spacing / 2) % spacing - spacing / 2) / (width / 2)
        return np.asarray(-depth * np.clip((1 - d) / 0.3, 0, 1))

    day.per_turn = max(day.per_turn, round(2 * 360 / width))
    return [day.read(day.take(day.on_eccentric(extra)))]


def square_lobes(day: Day) -> Sequence[Sweep]:
    """2 to 6 lobes of 0.02 to 0.15 mm with edges 1 to 3 degrees wide, on an eccentric."""
    lobes, edge = int(day.rng.integers(2, 7)), day.rng.uniform(1, 3)
    height, first, duty = day.log_uniform(0.02, 0.15), day.rng.uniform(0, 360), day.rng.uniform(0.3, 0.7)

    def extra(angle: F64) -> F64:
        spacing = 360 / lobes
        d = np.abs((angle - first + spacing / 2) % spacing - spacing / 2)
        return np.asarray(height * np.clip(0.5 + (duty * spacing / 2 - d) / edge, 0, 1))

    return [day.read(day.take(day.on_eccentric(extra)))]


def swollen_arc(day: Day) -> Sequence[Sweep]:
    """An arc 40 to 90 degrees wide, flat on top, edges of 5 to 15 degrees, 20 to 70 % of the TIR high."""
    width, edge = day.rng.uniform(40, 90), day.rng.uniform(5, 15)
    height, middle = day.rng.uniform(0.2, 0.7) * day.truth_mm, day.rng.uniform(0, 360)

    def extra(angle: F64) -> F64:
        rise = np.clip((width / 2 - away_deg(angle, middle)) / edge, 0, 1)
        return np.asarray(height * (0.5 - 0.5 * np.cos(np.pi * rise)))

    return [day.read(day.take(day.on_eccentric(extra)))]


def dents(day: Day, count: int, low_deg: float, high_deg: float) -> Mixed:
    """Dents or bulges of raised-cosine form, 8 to 60 % of the TIR, on a surface of the honest grid."""
    some = [
        (
            day.either() * day.log_uniform(0.08, 0.6) * day.truth_mm,
            day.rng.uniform(low_deg, high_deg),
            day.rng.uniform(0, 360),
        )
        for _ in range(count)
    ]

    def extra(angle: F64) -> F64:
        out = np.zeros_like(angle)
        for height, width, middle in some:
            near = np.minimum(away_deg(angle, middle) / (width / 2), 1)
            out += height * (0.5 + 0.5 * np.cos(np.pi * near))
        return out

    return Mixed(day.form(feature=False), extra, day.truth_mm)


def two_dents_few(day: Day) -> Sequence[Sweep]:
    """Two dents or bulges 5 to 15 degrees wide, the deepest third of that, under 60 to 200 readings: with an
    uneven pace the next reading may be a dent's width away, and then it is not in the data."""
    day.per_turn = round(day.log_uniform(60, 200))
    return [day.read(day.take(dents(day, 2, 5, 15)))]


def two_dents(day: Day) -> Sequence[Sweep]:
    """Two dents or bulges 5 to 15 degrees wide, under 200 to 3 000 readings."""
    day.per_turn = round(day.log_uniform(200, 3000))
    return [day.read(day.take(dents(day, 2, 5, 15)))]


def narrow_few(day: Day) -> Sequence[Sweep]:
    """A dent of 1 to 5 degrees under 100 to 400 readings: one, two or none of them meets its deepest place.

    What lies between two readings is not in the data; the narrowest of these cannot be seen.
    """
    day.per_turn = round(day.log_uniform(100, 400))
    return [day.read(day.take(dents(day, 1, 1, 5)))]


def narrow_many(day: Day) -> Sequence[Sweep]:
    """A dent of 1 to 5 degrees under 600 to 3 000 readings."""
    day.per_turn = round(day.log_uniform(600, 3000))
    return [day.read(day.take(dents(day, 1, 1, 5)))]


REGIMES = (
    Regime("surface", "orders 21-60", high_orders),
    Regime("surface", "notches", notches),
    Regime("surface", "square lobes", square_lobes),
    Regime("surface", "swollen arc", swollen_arc),
    Regime(
        "surface",
        "two dents, 60-200 readings",
        two_dents_few,
        can_be_seen=False,
        short=Short(
            "the deepest part of one lies between two readings: whoever keeps the same surfaces with smaller "
            "dents keeps 1 in 100",
            kept_max=0.08,
            covered_min=0.8,
        ),
    ),
    Regime(
        "surface",
        "two dents, 200-3000 readings",
        two_dents,
        short=Short(
            "at 200 readings one may still lie a dent's width from the next: the bound is 1 in 100",
            kept_max=0.03,
            covered_min=0.88,
        ),
    ),
    Regime(
        "surface",
        "dents 1-5 deg, 100-400 readings",
        narrow_few,
        can_be_seen=False,
        short=Short(
            "the narrowest lie between two readings: whoever keeps their twins keeps 6 in 100",
            kept_max=0.08,
            covered_min=0.86,
        ),
    ),
    Regime("surface", "dents 1-5 deg, 600-3000 readings", narrow_many),
)
