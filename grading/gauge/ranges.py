"""The range of a few readings: what noise alone makes of highest minus lowest.

Factors for independent normal readings (ISO 7870-2; ASTM E2587), computed, not tabulated.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from grading.statistics.distributions import normal_cdf

# Step and reach of the sum over the lowest reading, in standard deviations: the trapezoidal rule is
# exact to rounding for so smooth and fast a decay.
_STEP, _REACH = 0.125, 9.0
# Gauss-Legendre panels over the range from zero to twice the reach.
_PANELS, _POINTS = 12, 12


@dataclass(frozen=True, slots=True)
class RangeFactors:
    """For readings of standard deviation one: mean (d2) and standard deviation (d3) of their range."""

    d2: float
    d3: float


def range_factors(n: int) -> RangeFactors:
    """d2 and d3 of n readings, n >= 2: the range of noise sd has mean d2 sd, deviation d3 sd."""
    nodes, weights = np.polynomial.legendre.leggauss(_POINTS)
    half = _REACH / _PANELS
    first = second = 0.0
    for panel in range(_PANELS):
        for node, weight in zip(nodes.tolist(), weights.tolist(), strict=True):
            w = half * (2 * panel + 1.0 + node)
            beyond = 1.0 - range_cdf(w, n)
            first += weight * half * beyond
            second += weight * half * 2.0 * w * beyond
    return RangeFactors(first, math.sqrt(second - first * first))


def range_cdf(w: float, n: int) -> float:
    """Probability that the range of n >= 2 standard normal readings is at most w.

    n times the integral of the density of the lowest reading x and the chance that the others lie
    in x to x + w. ValueError for n < 2.
    """
    if n < 2:
        raise ValueError(f"a range needs at least 2 readings, found {n}")
    if w <= 0.0:
        return 0.0
    steps = int(_REACH / _STEP)
    total = 0.0
    for i in range(-steps, steps + 1):
        x = i * _STEP
        total += math.exp(-0.5 * x * x) * (normal_cdf(x + w) - normal_cdf(x)) ** (n - 1)
    return min(1.0, n * _STEP * total / math.sqrt(2.0 * math.pi))


def c4(n: int) -> float:
    """Mean of the experimental standard deviation of n >= 2 readings of standard deviation one."""
    if n < 2:
        raise ValueError(f"a standard deviation needs at least 2 readings, found {n}")
    return math.sqrt(2.0 / (n - 1.0)) * math.exp(math.lgamma(0.5 * n) - math.lgamma(0.5 * (n - 1.0)))
