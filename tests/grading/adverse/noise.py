"""Readings that scatter in other ways than white noise."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from grading.evidence import Sweep
from tests.grading.adverse.day import Day
from tests.grading.adverse.regime import Regime, Short


def half_order(day: Day) -> Sequence[Sweep]:
    """A wobble of 2 to 10 um once in two turns of the crank, of any phase.

    In one turn a phase at which it closes is half a sine, as smooth as a surface: no one turn can tell it.
    """
    take = day.take(day.form())
    phase = day.rng.uniform(0, 2 * np.pi)
    take.value = take.value + day.rng.uniform(0.002, 0.010) * np.cos(np.deg2rad(take.path) / 2 + phase)
    return [day.read(take)]


def correlated(day: Day) -> Sequence[Sweep]:
    """Noise of 1 to 5 um with a memory of 3 to 40 readings (autoregressive, first order)."""
    take = day.take(day.form())
    sd, keep = day.rng.uniform(0.001, 0.005), float(np.exp(-1 / day.log_uniform(3, 40)))
    day.runs_on = (sd, keep)
    fresh = day.rng.normal(0, sd * (1 - keep**2) ** 0.5, take.size)
    fresh[0] = day.rng.normal(0, sd)
    noise = np.empty(take.size)
    last = 0.0
    for i, each in enumerate(fresh):
        last = keep * last + each
        noise[i] = last
    take.noise = take.noise + noise
    return [day.read(take)]


def heavy_tails(day: Day) -> Sequence[Sweep]:
    """Student's t of 2 to 4 degrees of freedom, scaled to the day's noise."""
    take = day.take(day.form())
    take.noise = day.noise_mm * day.rng.standard_t(day.rng.uniform(2, 4), take.size)
    return [day.read(take)]


def _spiked(day: Day, count: int) -> Sequence[Sweep]:
    take = day.take(day.form())
    for at in day.rng.choice(take.size, count, replace=False):
        take.noise[at] += day.either() * day.log_uniform(0.03, 0.9)
    return [day.read(take)]


def one_spike(day: Day) -> Sequence[Sweep]:
    """A single reading off by 0.03 to 0.9 mm."""
    return _spiked(day, 1)


def three_spikes(day: Day) -> Sequence[Sweep]:
    """Three single readings off by 0.03 to 0.9 mm."""
    return _spiked(day, 3)


REGIMES = (
    Regime(
        "noise",
        "half-order wobble",
        half_order,
        can_be_seen=False,
        short=Short(
            "an oracle that is told of it covers no better, 94 of 100: where both ends meet it is a surface",
            covered_min=0.88,
        ),
    ),
    Regime(
        "noise",
        "correlated noise",
        correlated,
        short=Short(
            "told its size and memory an oracle covers 94 of 100; else it is a surface of such waves",
            covered_min=0.86,
        ),
    ),
    Regime("noise", "heavy tails", heavy_tails),
    Regime("noise", "one spike", one_spike),
    Regime("noise", "three spikes", three_spikes),
)
