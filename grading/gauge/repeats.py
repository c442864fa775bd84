"""Repeatability: what the same gauge reads when it is lifted and set down again (lengths in mm)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import stdev

from grading.gauge.budget import resolution_u
from grading.statistics.distributions import t_quantile


@dataclass(frozen=True, slots=True)
class Repeatability:
    """A standard deviation from repeated readings and its degrees of freedom."""

    sd_mm: float
    dof: int


def repeatability_of_lifts(values_mm: Sequence[float]) -> Repeatability:
    """From lifts of the plunger at one place, at least 2, usually 3 (JCGM 100:2008, 4.2.2).

    ValueError for fewer.
    """
    return Repeatability(stdev(values_mm), len(values_mm) - 1)


def proven(repeatability: Repeatability, resolution_mm: float) -> Repeatability:
    """What a test proves of a gauge whose display has this step: never less than the step hides.

    step / sqrt(12) (JCGM 100:2008, F.2.2.1) takes the place of a smaller standard deviation: lifts that
    all show the same prove no repeatability of zero. The degrees of freedom stay.
    """
    return Repeatability(max(repeatability.sd_mm, resolution_u(resolution_mm)), repeatability.dof)


def widened(u: float, dof: float, coverage: float = 0.95) -> float:
    """The standard uncertainty that covers with the normal factor what u does with Student's t.

    For a budget whose lines add up as squares: t / k times u, of u with dof degrees of freedom
    (JCGM 100:2008, G.3). Any unit.
    """
    p = 0.5 * (1.0 + coverage)
    return u * t_quantile(p, dof) / t_quantile(p, math.inf)
