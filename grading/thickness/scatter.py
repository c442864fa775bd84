"""How well one reading repeats: what a method assumes, and what replicates and lifts have shown since.

Before any reading is repeated, the standard deviation lies somewhere between the method's least and most,
each factor as likely as any other (the usual prior of a scale, flat in its logarithm: Jeffreys 1961, Box and
Tiao 1973; both from memory). Replicates and lifts are weighed in by their likelihood, so that several of
them make it Student's t and none leave the assumption.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from contract.gauge import GaugeFacts
from grading.evidence import F64
from grading.surface.tir import normal_below

GRID = 48
"""Standard deviations tried, evenly in their logarithm."""
MEANS = 41
"""True values of a place tried for each of them."""
REACH = 5.0
"""How far the true value may be from the readings' mean, in standard deviations of that mean."""

STEPS = 241
"""Values that the lowest of readings may have, of a sum over them."""


def scatter_draws(
    replicates: Iterable[Sequence[float]],
    gauge: GaugeFacts,
    least_mm: float,
    most_mm: float,
    draws: int,
    apart_mm: float = math.inf,
) -> F64:
    """Equally likely standard deviations of one reading without the display, mm, shape (draws,), rising.

    replicates: readings of each place, mm; a place read once says nothing. apart_mm: those that are
    further apart are asked for again, so that what is left repeats better than the gauge: each place's
    likelihood is that of readings which were let through. A gauge whose repeatability is known (no degrees of
    freedom given) needs no inference.
    """
    if gauge.repeatability_mm is not None and gauge.repeatability_dof is None:
        return np.full(draws, gauge.repeatability_mm)
    grid = np.geomspace(least_mm, most_mm, GRID)
    log_likelihood = np.zeros(GRID)
    for values in replicates:
        if len(values) > 1:
            log_likelihood += _of_place(np.array(values), grid, gauge.resolution_mm)
            log_likelihood -= _let_through(len(values), grid, apart_mm + gauge.resolution_mm / 2.0)
    if gauge.repeatability_mm is not None and gauge.repeatability_dof is not None:
        # Lifts were read through the display: their variance has its part, step squared / 12.
        variance = grid**2 + gauge.resolution_mm**2 / 12.0
        ratio = gauge.repeatability_mm**2 / variance
        log_likelihood += -0.5 * gauge.repeatability_dof * (np.log(variance) + ratio)
    weight = np.exp(log_likelihood - log_likelihood.max())
    below = (np.cumsum(weight) - 0.5 * weight) / weight.sum()
    share = (np.arange(draws) + 0.5) / draws
    return np.asarray(np.exp(np.interp(share, below, np.log(grid))))


def _of_place(values: F64, grid: F64, step: float) -> F64:
    """Log-likelihood of each standard deviation, shape (GRID,): each reading is only known to its step, and
    the true value of the place to nothing, so it is integrated out."""
    half = max(step / 2.0, 1e-7)
    reach = half + REACH * grid / math.sqrt(values.size)
    means = values.mean() + reach[:, None] * np.linspace(-1.0, 1.0, MEANS)
    off = values - means[:, :, None]
    sd = grid[:, None, None]
    chance = normal_below((off + half) / sd) - normal_below((off - half) / sd)
    return np.asarray(np.log(np.maximum(chance.prod(axis=2).sum(axis=1) * reach, 1e-290)))


def _let_through(count: int, grid: F64, apart_mm: float) -> F64:
    """Log-chance that so many readings lie no further apart, shape (GRID,) (distribution of the range of a
    normal sample, textbook)."""
    lowest = np.linspace(-REACH - 1.0, REACH + 1.0, STEPS)
    density = np.exp(-0.5 * lowest**2) / math.sqrt(2.0 * math.pi)
    width = np.minimum(apart_mm / grid, 2.0 * REACH + 2.0)[:, None]
    others = normal_below(lowest + width) - normal_below(lowest)
    chance = count * np.sum(density * others ** (count - 1), axis=1) * (lowest[1] - lowest[0])
    return np.asarray(np.log(np.clip(chance, 1e-290, 1.0)))
