"""Uncertainty budgets by the law of propagation (JCGM 100:2008, the GUM).

Quantities carry whatever unit the caller gives them; all components of one budget, times their
sensitivities, must come out in the same unit (mm for everything that ringtrue reports).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from grading.evidence import F64
from grading.statistics.distributions import t_quantile

Evaluation = Literal["A", "B"]


def divisor(shape: Literal["rectangular", "triangular", "arcsine", "trapezoid"], beta: float = 0.0) -> float:
    """What the half-width of a bounded distribution is divided by to give its standard uncertainty.

    JCGM 100:2008: rectangular 4.3.7, trapezoid and triangular 4.3.9, arcsine (a sine in time)
    H.1.3.4. beta: for a trapezoid, top over base, 0 (triangular) to 1 (rectangular); ValueError
    outside.
    """
    if shape == "trapezoid":
        if not 0.0 <= beta <= 1.0:
            raise ValueError(f"beta of a trapezoid lies in 0 to 1, found {beta}")
        return math.sqrt(6.0 / (1.0 + beta * beta))
    return math.sqrt({"rectangular": 3.0, "triangular": 6.0, "arcsine": 2.0}[shape])


def resolution_u(step: float) -> float:
    """Standard uncertainty of one reading whose display has this step (JCGM 100:2008, F.2.2.1)."""
    return step / math.sqrt(12.0)


@dataclass(frozen=True, slots=True)
class Component:
    """One line of a budget.

    value: the figure as stated (a standard deviation, a half-width, an expanded uncertainty), in the
    input's unit, >= 0. divisor: makes a standard uncertainty of it. sensitivity: change of the
    result per change of the input (5.1.3). dof: degrees of freedom of the standard uncertainty,
    positive or infinite. evaluation: `A` from repeated observation, `B` from elsewhere (4.2, 4.3).
    """

    source: str
    value: float
    divisor: float = 1.0
    sensitivity: float = 1.0
    dof: float = math.inf
    evaluation: Evaluation = "B"

    def __post_init__(self) -> None:
        if not (0.0 <= self.value < math.inf and 0.0 < self.divisor < math.inf):
            raise ValueError(f"{self.source}: value must be finite, not negative, and its divisor positive")
        if not (math.isfinite(self.sensitivity) and self.dof > 0.0):
            raise ValueError(f"{self.source}: sensitivity must be finite and degrees of freedom positive")

    @property
    def u(self) -> float:
        """Standard uncertainty of the input, in the input's unit."""
        return self.value / self.divisor

    @property
    def contribution(self) -> float:
        """u_i(y) = |sensitivity| u, in the result's unit (5.1.3)."""
        return abs(self.sensitivity) * self.u


@dataclass(frozen=True, slots=True)
class Combined:
    """What the components of a budget come to. u: combined standard uncertainty; dof: effective."""

    u: float
    dof: float
    components: tuple[Component, ...]

    def coverage_factor(self, coverage: float = 0.95, *, whole_dof: bool = True) -> float:
        """k = t_P(dof) (G.3.2); whole_dof: degrees of freedom cut to the next lower whole (G.4.2)."""
        nu = max(1.0, math.floor(self.dof)) if whole_dof and math.isfinite(self.dof) else self.dof
        return t_quantile(0.5 * (1.0 + coverage), nu)

    def expanded(self, coverage: float = 0.95, *, whole_dof: bool = True) -> float:
        """Expanded uncertainty U = k u (6.2.1), in the result's unit."""
        return self.coverage_factor(coverage, whole_dof=whole_dof) * self.u


def combine(
    components: Sequence[Component], correlations: Mapping[tuple[str, str], float] | None = None
) -> Combined:
    """Combined standard uncertainty and effective degrees of freedom of a budget.

    JCGM 100:2008, equations 10 (independent inputs), 13 and 16 (correlated ones), G.2b (effective
    degrees of freedom; for correlated inputs too, where it is an approximation). correlations:
    coefficient for a pair of sources, each pair once, in -1 to 1. ValueError for an unknown or
    repeated source, or coefficients that no covariance can have.
    """
    index = {component.source: i for i, component in enumerate(components)}
    if len(index) != len(components):
        raise ValueError("every component of a budget needs a source of its own")
    signed = np.array([c.sensitivity * c.u for c in components])
    r = np.eye(len(components))
    for (one, other), coefficient in (correlations or {}).items():
        if one not in index or other not in index or one == other:
            raise ValueError(f"correlation of {one} and {other}: both must be sources of this budget")
        if not -1.0 <= coefficient <= 1.0:
            raise ValueError(f"correlation of {one} and {other} must lie in -1 to 1, found {coefficient}")
        r[index[one], index[other]] = r[index[other], index[one]] = coefficient
    variance = float(signed @ r @ signed)
    if variance < -1e-12 * float(signed @ signed):
        raise ValueError("these correlations cannot hold together")
    u = math.sqrt(max(variance, 0.0))
    return Combined(
        u,
        effective_dof(u, [c.contribution for c in components], [c.dof for c in components]),
        tuple(components),
    )


def effective_dof(u: float, contributions: Sequence[float], dof: Sequence[float]) -> float:
    """Welch-Satterthwaite: u^4 over the sum of u_i^4 / nu_i (JCGM 100:2008, G.2b).

    contributions, dof: one per input, in the unit of u and positive or infinite. Infinite where
    nothing with finite degrees of freedom contributes.
    """
    below = math.fsum(part**4 / nu for part, nu in zip(contributions, dof, strict=True) if math.isfinite(nu))
    return u**4 / below if below > 0.0 else math.inf


def covariance_of_means(observations: F64) -> tuple[F64, F64]:
    """Means of simultaneous observations and the covariance of these means.

    observations: shape (n, q), n >= 2 sets of q quantities read together. Returns shapes (q,) and
    (q, q) (JCGM 100:2008, 4.2.3 and 5.2.3, equation 17).
    """
    if observations.ndim != 2 or observations.shape[0] < 2:
        raise ValueError("at least two sets of simultaneous observations are needed")
    n = observations.shape[0]
    means = observations.mean(axis=0)
    apart = observations - means
    return means, apart.T @ apart / (n * (n - 1.0))


def propagate_covariance(sensitivities: F64, covariance: F64) -> F64:
    """Covariance of several results of the same inputs (JCGM 100:2008, 5.2.2; H.2.3).

    sensitivities: shape (m, n), derivative of result i to input j. covariance: shape (n, n).
    Returns shape (m, m); the square roots of its diagonal are the standard uncertainties.
    """
    return sensitivities @ covariance @ sensitivities.T
