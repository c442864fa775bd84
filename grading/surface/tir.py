"""What is known of a true TIR, as a distribution: drawn values, blurred by what applies to all alike."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from grading.evidence import F64
from grading.surface.quantised import mills

# A quantile is searched until it is known to so many mm, or for so many rounds.
FOUND_MM, ROUNDS = 4e-7, 40
# Or to this chance.
FOUND_SHARE = 1e-8
# So many standard deviations up, a normal variable lies below to the last bit of a float.
SURE = 9.0


def normal_below(x: F64) -> F64:
    """Standard normal distribution function, any shape."""
    tail = mills(np.abs(x)) * np.exp(-0.5 * x * x) / np.sqrt(2 * np.pi)
    return np.asarray(np.where(x < 0, tail, 1.0 - tail))


def spread_mm(values: F64) -> float:
    """Standard deviation that a normal distribution with the same central 95 % would have: rare far
    values, as from features in gaps, do not rule it."""
    low, high = np.quantile(values, [0.025, 0.975])
    return float(high - low) / (2 * 1.959964)


@dataclass(frozen=True, slots=True)
class TirDistribution:
    """Equally likely centres, shape (m,), each with a normal part (sd_mm > 0) and a rectangular one
    (half_width_mm >= 0) around it, in mm: the mixture is evaluated in closed form, not drawn."""

    centres_mm: F64
    sd_mm: float
    half_width_mm: float

    def p_over(self, limit_mm: float) -> float:
        """Probability that the true TIR is above the limit (JCGM 106:2012, 7)."""
        return float(self._above(limit_mm - self.centres_mm).mean())

    def _above(self, distance: F64) -> F64:
        if self.half_width_mm <= 1e-3 * self.sd_mm:
            return normal_below(-distance / self.sd_mm)
        a, s = self.half_width_mm, self.sd_mm
        # P(N + R > d) is the mean of P(N > d - r) over r in -a … a.
        low, high = _ramp(np.array([-a - distance, a - distance]) / s)
        return np.asarray(np.minimum(np.maximum((high - low) * (s / (2 * a)), 0.0), 1.0))

    @property
    def u_mm(self) -> float:
        """Standard uncertainty: the standard deviation."""
        return float(np.sqrt(np.var(self.centres_mm) + self.sd_mm**2 + self.half_width_mm**2 / 3))

    def median_mm(self) -> float:
        """The value that is exceeded with probability 1/2."""
        low, high = self._about(self.centres_mm, 0.5)
        return _crossing(lambda x: 0.5 - self.p_over(x), low, high)

    def _about(self, values: F64, share: float) -> tuple[float, float]:
        """Between what this share of the values lie below, once blurred."""
        reach = SURE * self.sd_mm + self.half_width_mm
        low, high = np.quantile(values, share, method="lower"), np.quantile(values, share, method="higher")
        return float(low) - reach, float(high) + reach

    def expanded_mm(self, about_mm: float, coverage: float) -> float:
        """Half-width of the interval about `about_mm` that holds the true TIR with this probability
        (JCGM 101:2008, 7.7, for an interval about the estimate)."""
        low, high = self._about(np.abs(self.centres_mm - about_mm), coverage)
        low = max(low, 0.0)
        return _crossing(lambda x: self._within(about_mm, x) - coverage, low, high)

    def _within(self, about_mm: float, reach_mm: float) -> float:
        return self.p_over(about_mm - reach_mm) - self.p_over(about_mm + reach_mm)


def _crossing(rising: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function is 0, by false position, an end that stays halved (the Illinois way)."""
    below, above, kept = rising(low), rising(high), 0
    for _ in range(ROUNDS):
        at = high - above * (high - low) / (above - below) if above > below else 0.5 * (low + high)
        value = rising(at)
        if abs(value) < FOUND_SHARE or high - low < FOUND_MM:
            return at
        last, kept = kept, (1 if value > 0 else -1)
        if value > 0:
            moved, high, above = high - at, at, value
            below *= 0.5 if last == kept else 1.0
        else:
            moved, low, below = at - low, at, value
            above *= 0.5 if last == kept else 1.0
        if moved < 0.1 * FOUND_MM:
            return at
    return 0.5 * (low + high)


def _ramp(x: F64) -> F64:
    """Integral of the standard normal distribution function up to x."""
    size = np.abs(x)
    left = 1.0 - size * mills(size)
    left *= np.exp(-0.5 * x * x) / np.sqrt(2 * np.pi)
    return np.asarray(np.maximum(x, 0.0) + left)
