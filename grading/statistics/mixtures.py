"""Mixtures of normal distributions: what is known of a figure where its scatter is not known either."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from grading.evidence import F64

TAIL = 0.025
"""Of a 95 % interval, at either end."""


@dataclass(frozen=True, slots=True)
class Interval:
    """Median and both ends of a 95 % interval, in mm."""

    median: float
    low: float
    high: float


def mixed_cdf(weight: F64, mean: F64, sd: F64, y: float) -> float:
    """Probability of at most y. weight, mean, sd: shape (g,); weights add up to 1."""
    from scipy.special import ndtr

    return float(weight @ ndtr((y - mean) / sd))


def mixed_interval(weight: F64, mean: F64, sd: F64) -> Interval:
    """Median and 95 % interval; shapes as above."""
    return Interval(*(_quantile(weight, mean, sd, p) for p in (0.5, TAIL, 1 - TAIL)))


def _quantile(weight: F64, mean: F64, sd: F64, p: float) -> float:
    """By halving."""
    low, high = float(np.min(mean - 9 * sd)), float(np.max(mean + 9 * sd))
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if mixed_cdf(weight, mean, sd, middle) < p else (low, middle)
    return 0.5 * (low + high)
