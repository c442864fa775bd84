"""Several sweeps of one check."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from grading.evidence import Sweep
from tests.grading.adverse.day import Day, Take
from tests.grading.adverse.regime import Regime
from tests.grading.synthetic import Form

Spoil = Callable[[Day, Take], None]
OVER_MM = (0.31, 0.33, 0.35)
LOOKS_MAX = 5


def honest(count: int, readings: int | None = None) -> Callable[[Day], Sequence[Sweep]]:
    """So many sweeps of one surface, the gauge's own error the same in all.

    With a number of readings: by an encoder and a gauge of 0.001 mm whose span is off by no more than that,
    so that what shrinks with repeats is to be seen. 36 readings stand 10 degrees apart: a dent of 5 degrees
    may lie between them, in each sweep elsewhere.
    """

    def build(day: Day) -> Sequence[Sweep]:
        if readings:
            day.per_turn, day.source = readings, "encoder"
            day.use_gauge(0.001, 0.001)
        form = day.form()
        return [day.read(day.take(form)) for _ in range(count)]

    return build


def _off_surface(day: Day, take: Take) -> None:
    """The plunger hangs free."""
    take.value, take.noise = np.zeros(take.size), np.zeros(take.size)


def _slips(day: Day, take: Take) -> None:
    at = int(day.rng.uniform(0.1, 0.9) * take.size)
    take.value[at:] += day.either() * day.rng.uniform(0.01, 0.1)


def _ends(day: Day, take: Take) -> None:
    low, high = float(take.value.min()), float(take.value.max())
    take.value = np.minimum(take.value, low + day.rng.uniform(0.55, 0.9) * (high - low))


def _spikes(day: Day, take: Take) -> None:
    take.noise[int(day.rng.integers(take.size))] += day.either() * day.log_uniform(0.03, 0.9)


def over_then_off(day: Day) -> Sequence[Sweep]:
    """Two sweeps of a surface well over, then one with the plunger off it: what was over stays over."""
    form = day.form()
    third = day.take(form)
    _off_surface(day, third)
    return [day.read(day.take(form)), day.read(day.take(form)), day.read(third)]


def over_then_low(day: Day) -> Sequence[Sweep]:
    """Two sweeps of a surface well over, then one of 0.20 mm, from wherever."""
    form = day.form()
    low = day.form(tir_mm=0.20)
    return [day.read(day.take(form)), day.read(day.take(form)), day.read(day.take(low))]


def two_dampers(day: Day) -> Sequence[Sweep]:
    """One sweep of this damper and one of another, in either order; the truth meant is the worse of them."""
    here: Form = day.form()
    other: Form = day.form(tir_mm=day.rng.uniform(0.12, 0.45))
    day.truth_mm = max(here.tir, other.tir)
    both = [day.read(day.take(here)), day.read(day.take(other))]
    return both if day.either() > 0 else both[::-1]


def odd_one(day: Day) -> Sequence[Sweep]:
    """Four sweeps of one surface; in one of them, any, it slips, meets the end of travel or spikes."""
    form = day.form()
    takes = [day.take(form) for _ in range(4)]
    spoil: Spoil = (_slips, _ends, _spikes)[int(day.rng.integers(3))]
    spoil(day, takes[int(day.rng.integers(4))])
    return [day.read(take) for take in takes]


REGIMES = (
    Regime("repeats", "2 sweeps", honest(2), invalid_max=0.02),
    Regime("repeats", "3 sweeps", honest(3), invalid_max=0.02),
    Regime("repeats", "5 sweeps", honest(5), invalid_max=0.02),
    *(
        Regime(
            "repeats",
            f"{count} of {readings} readings",
            honest(count, readings),
            can_be_seen=readings > 36,
            invalid_max=0.02,
        )
        for readings in (36, 400)
        for count in (1, 2, 3, 5)
    ),
    Regime("repeats", "again until clear, 5 looks", honest(LOOKS_MAX), invalid_max=0.02, looks=True),
    Regime("repeats", "over twice, then plunger off", over_then_off, truths_mm=OVER_MM),
    Regime("repeats", "over twice, then 0.20", over_then_low, truths_mm=OVER_MM),
    Regime("repeats", "two dampers", two_dampers, covers=False),
    Regime("repeats", "one odd sweep of four", odd_one),
)
