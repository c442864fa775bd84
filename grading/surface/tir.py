"""What is known of a true TIR, as a distribution: drawn values, blurred by what applies to all alike."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, floor

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
        return self._over(limit_mm)[0]

    def _over(self, limit_mm: float) -> tuple[float, float]:
        """That probability, and the density there, per mm."""
        above, density = self._above(limit_mm - self.centres_mm)
        return float(above.mean()), float(density.mean())

    def _above(self, distance: F64) -> tuple[F64, F64]:
        """The same about single centres that are so far below."""
        a, s = self.half_width_mm, self.sd_mm
        if a <= 1e-3 * s:
            x = -distance / s
            return normal_below(x), np.exp(-0.5 * x * x) / (s * np.sqrt(2 * np.pi))
        # P(N + R > d) is the mean of P(N > d - r) over r in -a … a.
        ramp, below = _ramp(np.array([-a - distance, a - distance]) / s)
        share = np.minimum(np.maximum((ramp[1] - ramp[0]) * (s / (2 * a)), 0.0), 1.0)
        return share, (below[1] - below[0]) / (2 * a)

    @property
    def u_mm(self) -> float:
        """Standard uncertainty: the standard deviation."""
        return float(np.sqrt(np.var(self.centres_mm) + self.sd_mm**2 + self.half_width_mm**2 / 3))

    def median_mm(self) -> float:
        """The value that is exceeded with probability 1/2."""

        def below(x: float) -> tuple[float, float]:
            above, density = self._over(x)
            return 0.5 - above, density

        return _crossing(below, float(np.median(self.centres_mm)), *self._about(self.centres_mm, 0.5))

    def _about(self, values: F64, share: float) -> tuple[float, float]:
        """Between what this share of the values lie below, once blurred."""
        reach = SURE * self.sd_mm + self.half_width_mm
        rank, ordered = share * (values.size - 1), np.sort(values)
        return float(ordered[floor(rank)]) - reach, float(ordered[ceil(rank)]) + reach

    def expanded_mm(self, about_mm: float, coverage: float) -> float:
        """Half-width of the interval about `about_mm` that holds the true TIR with this probability
        (JCGM 101:2008, 7.7, for an interval about the estimate)."""
        low, high = self._about(np.abs(self.centres_mm - about_mm), coverage)
        blur = float(np.hypot(self.sd_mm, self.half_width_mm / 3**0.5))

        def within(x: float) -> tuple[float, float]:
            (over, leaving), (beyond, entering) = self._over(about_mm - x), self._over(about_mm + x)
            return over - beyond - coverage, leaving + entering

        return _crossing(within, float(np.hypot(0.5 * (low + high), 2 * blur)), max(low, 0.0), high)


def _crossing(rising: Callable[[float], tuple[float, float]], at: float, low: float, high: float) -> float:
    """Where a rising function, of which value and slope are told, is 0: by Newton's way from one place, by
    halves where that leads out of where it can be."""
    for _ in range(ROUNDS):
        value, slope = rising(at)
        low, high = (at, high) if value < 0 else (low, at)
        if abs(value) < FOUND_SHARE or high - low < FOUND_MM:
            break
        ahead = at - value / slope if slope > 0 else low
        ahead = ahead if low < ahead < high else 0.5 * (low + high)
        moved, at = abs(ahead - at), ahead
        if moved < 0.1 * FOUND_MM:
            break
    return at


def _ramp(x: F64) -> tuple[F64, F64]:
    """Integral of the standard normal distribution function up to x, and that function itself."""
    size = np.abs(x)
    density = np.exp(-0.5 * x * x) / np.sqrt(2 * np.pi)
    tail = mills(size) * density
    below = np.where(x < 0, tail, 1.0 - tail)
    return np.maximum(x, 0.0) + (density - size * tail), below
