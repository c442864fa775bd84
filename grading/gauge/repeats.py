"""Repeatability: what the same gauge reads when it is lifted and set down again (lengths in mm)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from grading.gauge.budget import Component, resolution_u
from grading.statistics.distributions import chi2_quantile, t_quantile


@dataclass(frozen=True, slots=True)
class Repeatability:
    """A standard deviation from repeated readings and its degrees of freedom."""

    sd_mm: float
    dof: int

    def interval_mm(self, confidence: float = 0.95) -> tuple[float, float]:
        """Confidence interval of the standard deviation by the chi-square distribution, exact for
        normal readings."""
        tail = 0.5 * (1.0 - confidence)
        high = self.sd_mm * math.sqrt(self.dof / chi2_quantile(tail, self.dof))
        return self.sd_mm * math.sqrt(self.dof / chi2_quantile(1.0 - tail, self.dof)), high

    def two_readings_mm(self, confidence: float = 0.95) -> float:
        """Largest difference of two readings that repetition alone explains, mm: t sd sqrt(2)."""
        return t_quantile(0.5 * (1.0 + confidence), self.dof) * self.sd_mm * math.sqrt(2.0)


def mean_and_sd(values: Sequence[float]) -> tuple[float, float]:
    """Mean and experimental standard deviation (JCGM 100:2008, 4.2.1, 4.2.2), two-pass.

    values: at least 2, any unit; the results carry the same. ValueError for fewer.
    """
    n = len(values)
    if n < 2:
        raise ValueError(f"at least 2 readings are needed for a standard deviation, found {n}")
    first = values[0]
    mean = math.fsum(value - first for value in values) / n
    return first + mean, math.sqrt(math.fsum((value - first - mean) ** 2 for value in values) / (n - 1))


def repeatability_of_lifts(values_mm: Sequence[float]) -> Repeatability:
    """From lifts of the plunger at one place, at least 2, usually 3 (JCGM 100:2008, 4.2.2)."""
    return Repeatability(mean_and_sd(values_mm)[1], len(values_mm) - 1)


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


def pool(several: Sequence[Repeatability]) -> Repeatability:
    """One standard deviation from several tests of one gauge (JCGM 100:2008, 4.2.4 and H.3.6 note).

    Variances weighted by their degrees of freedom, which add up. ValueError for none.
    """
    dof = sum(one.dof for one in several)
    if dof == 0:
        raise ValueError("nothing to pool")
    return Repeatability(math.sqrt(math.fsum(one.dof * one.sd_mm**2 for one in several) / dof), dof)


def repeatability_component(
    repeatability: Repeatability, resolution_mm: float, *, readings: int = 1, sensitivity: float = 1.0
) -> Component:
    """The entry of a repeatability test in a budget.

    The mean of `readings` readings has sd / sqrt(readings). Where the lifts scatter less than one
    step of the display hides (step / sqrt(12), JCGM 100:2008, F.2.2.1), that takes their place and
    the entry is of type B: lifts that all show the same prove no repeatability of zero.
    """
    if readings < 1:
        raise ValueError("a mean of at least one reading is needed")
    if repeatability.sd_mm >= resolution_mm / math.sqrt(12.0) and repeatability.sd_mm > 0.0:
        return Component(
            "repeated lifts",
            repeatability.sd_mm,
            math.sqrt(readings),
            sensitivity,
            float(repeatability.dof),
            "A",
        )
    return Component(
        "repeated lifts, hidden by the display's step", resolution_mm, math.sqrt(12.0), sensitivity
    )
