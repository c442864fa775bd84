"""Where a figure is heading: a straight line over the services, with all that is not known of it.

Figure i, read at x_i with standard uncertainty u_i, is y_i = a + b x_i + d_i + e_i: d_i what one service does
otherwise than the next (refitting, dirt, the place of the plunger), normal with an unknown standard deviation
tau; e_i the measurement. a is flat, b normal about 0 with a wide standard deviation, tau half a Student's t
(Gelman 2006, prior distributions for variance parameters; from memory). For one tau all is a weighted line in
closed form (York et al. 2004 with errors in y only; Bayesian linear regression, textbooks); tau is summed
over on a grid, so that what is said is a mixture of normals. Two services give a line too, and wide
intervals.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from grading.evidence import F64
from grading.statistics.distributions import normal_quantile
from grading.statistics.mixtures import Interval, mixed_cdf, mixed_interval

SCATTER_MM, SCATTER_FREEDOM = 0.01, 1.0
"""Scale and degrees of freedom of the half t for tau (1: half a Cauchy): as likely below 0.01 mm as above,
with a long tail. Our own choice, no source; tried with a truth of half and of twice as much."""
GRID = 240
"""Values of tau, evenly in its logarithm between GRID_ENDS of SCATTER_MM: four digits (tried)."""
GRID_ENDS = (1e-3, 1e3)
SLOPE_MM = 0.15
"""Standard deviation of the change over one `unit` of x, before any figure: half the usual limit over one
usual interval. Our own choice, no source."""
U_MIN_MM = 1e-5
AHEAD = 5.0
"""How many units past the last figure a limit is looked for: further off nothing holds."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of one service: x in any one measure of use, the figure and its standard uncertainty."""

    x: float
    y_mm: float
    u_mm: float


@dataclass(frozen=True, slots=True)
class Trend:
    """unit: of x, one usual interval. last: x of the latest figure. middle: x that z = 0 stands for, where
    z = (x - middle) / unit. weight (g,), tau_mm (g,), mean (g, 2), covariance (g, 2, 2): of the height at
    z = 0 and the slope per unit, in mm, for each tau."""

    unit: float
    last: float
    middle: float
    weight: F64
    tau_mm: F64
    mean: F64
    covariance: F64

    def rate_mm(self) -> Interval:
        """Change of the figure per unit of x, in mm."""
        sd = np.sqrt(self.covariance[:, 1, 1])
        return mixed_interval(self.weight, self.mean[:, 1], sd)

    def at_mm(self, x: float) -> Interval:
        """The true figure at a service at x, in mm."""
        mean, sd = self._at(x)
        return mixed_interval(self.weight, mean, sd)

    def p_over(self, x: float, limit_mm: float) -> float:
        """Probability that the true figure at a service at x is above the limit."""
        mean, sd = self._at(x)
        return 1.0 - mixed_cdf(self.weight, mean, sd, limit_mm)

    def reached(self, limit_mm: float, p: float) -> float | None:
        """Where the chance of being over first comes to p: the latest figure's x where it has there; None
        where it does not within AHEAD units."""
        ahead = self.last + np.linspace(0.0, AHEAD, 201) * self.unit
        past = np.flatnonzero(self._p_over_each(ahead, limit_mm) >= p)
        if not past.size:
            return None
        at = int(past[0])
        if at == 0:
            return self.last
        low, high = float(ahead[at - 1]), float(ahead[at])
        for _ in range(40):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if self.p_over(middle, limit_mm) >= p else (middle, high)
        return high

    def _p_over_each(self, x: F64, limit_mm: float) -> F64:
        """`p_over` at each of these places, shape (n,)."""
        from scipy.special import ndtr

        z = (x - self.middle) / self.unit
        mean = self.mean[:, :1] + self.mean[:, 1:] * z
        v = self.covariance[:, :, :, None]
        variance = v[:, 0, 0] + 2.0 * v[:, 0, 1] * z + v[:, 1, 1] * z**2 + self.tau_mm[:, None] ** 2
        return np.asarray(1.0 - self.weight @ ndtr((limit_mm - mean) / np.sqrt(variance)))

    def _at(self, x: float) -> tuple[F64, F64]:
        c = np.array([1.0, (x - self.middle) / self.unit])
        variance = np.einsum("i,gij,j->g", c, self.covariance, c) + self.tau_mm**2
        return np.asarray(self.mean @ c), np.sqrt(variance)


def trend_of(figures: Sequence[Figure], unit: float) -> Trend | None:
    """The line through these figures, in any order; None where they stand at fewer than two places."""
    x = np.array([figure.x for figure in figures], dtype=np.float64)
    if np.unique(x).size < 2:
        return None
    y = np.array([figure.y_mm for figure in figures])
    u = np.maximum([figure.u_mm for figure in figures], U_MIN_MM)
    middle = float(x.mean())
    z = (x - middle) / unit
    ends = np.log(np.array(GRID_ENDS) * SCATTER_MM)
    tau: F64 = np.exp(np.linspace(ends[0], ends[1], GRID))
    w = 1.0 / (u**2 + tau[:, None] ** 2)
    level = float(y.mean())  # taken off for the sake of the digits
    precision = np.empty((GRID, 2, 2))
    precision[:, 0, 0] = w.sum(axis=1)
    precision[:, 0, 1] = precision[:, 1, 0] = w @ z
    precision[:, 1, 1] = w @ z**2 + SLOPE_MM**-2
    right = np.stack([w @ (y - level), w @ (z * (y - level))], axis=1)
    covariance = np.asarray(np.linalg.inv(precision), dtype=np.float64)
    mean: F64 = np.einsum("gij,gj->gi", covariance, right)
    misfit = w @ (y - level) ** 2 - np.einsum("gi,gi->g", mean, right)
    evidence = 0.5 * (np.log(w).sum(axis=1) - np.linalg.slogdet(precision)[1] - misfit)
    prior = -0.5 * (SCATTER_FREEDOM + 1) * np.log1p((tau / SCATTER_MM) ** 2 / SCATTER_FREEDOM)
    log_weight = evidence + prior + np.log(tau)  # evenly in log tau
    weight = np.exp(log_weight - log_weight.max())
    mean[:, 0] += level
    return Trend(unit, float(x.max()), middle, weight / weight.sum(), tau, mean, covariance)


def standard_u_mm(u_expanded_mm: float, coverage: float) -> float:
    """U as a standard uncertainty, by the normal distribution."""
    return u_expanded_mm / normal_quantile(0.5 + 0.5 * coverage)
