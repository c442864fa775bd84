"""Propagation of distributions by a Monte Carlo method (JCGM 101:2008).

Each input draws from a random stream of its own, derived from the seed and the input's place, so
one seed gives the same bits again whatever else runs (on one version of numpy).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from grading.evidence import F64

# Draws `n` values of one input: (generator, n) -> shape (n,).
Draw = Callable[[np.random.Generator, int], F64]
# The measurement model: one array of shape (n,) per input -> shape (n,).
Model = Callable[..., F64]

# Trials of an adaptive run at most; 2000 blocks of the smallest size.
TRIALS_MAX = 20_000_000


def normal(mean: float, u: float) -> Draw:
    """Normal input (JCGM 101, 6.4.7)."""
    return lambda rng, n: rng.normal(mean, u, n)


def rectangular(low: float, high: float) -> Draw:
    """Rectangular input between two limits (6.4.2)."""
    return lambda rng, n: rng.uniform(low, high, n)


def trapezoidal(low: float, high: float, beta: float) -> Draw:
    """Symmetric trapezoid, top over base beta; 0 is a triangle (6.4.4, 6.4.5)."""
    half, middle = 0.5 * (high - low), 0.5 * (high + low)

    def draw(rng: np.random.Generator, n: int) -> F64:
        return middle + 0.5 * half * (
            (1.0 + beta) * rng.uniform(-1.0, 1.0, n) + (1.0 - beta) * rng.uniform(-1.0, 1.0, n)
        )

    return draw


def arcsine(low: float, high: float) -> Draw:
    """U-shaped input: a sine of unknown phase between two limits (6.4.6)."""
    half, middle = 0.5 * (high - low), 0.5 * (high + low)
    return lambda rng, n: middle + half * np.sin(rng.uniform(0.0, 2.0 * np.pi, n))


def inexact_limits(low: float, high: float, d: float) -> Draw:
    """Rectangular input whose limits are themselves only known to +-d (6.4.3)."""
    if not 0.0 <= d <= 0.5 * (high - low):
        raise ValueError("the limits must not be able to cross")

    def draw(rng: np.random.Generator, n: int) -> F64:
        bottom = low + d * rng.uniform(-1.0, 1.0, n)
        top = low + high - bottom
        return bottom + (top - bottom) * rng.uniform(0.0, 1.0, n)

    return draw


def student_t(mean: float, scale: float, nu: float) -> Draw:
    """Scaled and shifted Student t: a mean of few repeats (6.4.9)."""
    return lambda rng, n: mean + scale * rng.standard_t(nu, n)


@dataclass(frozen=True, slots=True)
class Propagated:
    """The output's distribution: draws, sorted, shape (trials,), in the output's unit."""

    draws: F64

    @property
    def y(self) -> float:
        """Estimate: the mean (7.6)."""
        return float(self.draws.mean())

    @property
    def u(self) -> float:
        """Standard uncertainty: the standard deviation (7.6)."""
        return float(self.draws.std(ddof=1))

    def symmetric(self, coverage: float = 0.95) -> tuple[float, float]:
        """Probabilistically symmetric coverage interval (7.7.2)."""
        return symmetric_interval(self.draws, coverage)

    def shortest(self, coverage: float = 0.95) -> tuple[float, float]:
        """Shortest coverage interval (7.7.3)."""
        return shortest_interval(self.draws, coverage)

    def p_over(self, limit: float) -> float:
        """Share of the distribution above a limit (JCGM 106:2012, 7)."""
        return 1.0 - float(np.searchsorted(self.draws, limit, side="right")) / self.draws.size


def propagate(model: Model, inputs: Sequence[Draw], *, trials: int, seed: int) -> Propagated:
    """A fixed number of trials (JCGM 101, clause 7). ValueError for fewer than 2 trials."""
    if trials < 2:
        raise ValueError(f"at least 2 trials are needed, found {trials}")
    streams = _streams(len(inputs), seed)
    draws = model(*(draw(rng, trials) for draw, rng in zip(inputs, streams, strict=True)))
    return Propagated(np.sort(draws))


def propagate_until(
    model: Model, inputs: Sequence[Draw], *, tolerance: float, seed: int, coverage: float = 0.95
) -> Propagated:
    """As many blocks of trials as it takes for the figures to settle (JCGM 101, 7.9).

    Settled: twice the standard deviation of the mean of y, u and both ends of the symmetric
    interval, over blocks, is within `tolerance` (unit of the output). RuntimeError where TRIALS_MAX
    trials have not settled it.
    """
    block = max(10_000, math.ceil(100.0 / (1.0 - coverage)))
    streams = _streams(len(inputs), seed)
    blocks: list[F64] = []
    figures: list[tuple[float, float, float, float]] = []
    while len(blocks) * block < TRIALS_MAX:
        part = Propagated(np.sort(model(*(d(rng, block) for d, rng in zip(inputs, streams, strict=True)))))
        blocks.append(part.draws)
        figures.append((part.y, part.u, *part.symmetric(coverage)))
        if len(figures) > 1:
            spread = np.std(np.array(figures), axis=0, ddof=1) / math.sqrt(len(figures))
            if float(2.0 * spread.max()) <= tolerance:
                return Propagated(np.sort(np.concatenate(blocks)))
    raise RuntimeError(f"{TRIALS_MAX} trials do not settle the result to {tolerance:g}")


def numerical_tolerance(u: float, digits: int = 2) -> float:
    """Half a unit in the last of `digits` meaningful digits of u (JCGM 101, 7.9.2)."""
    return 0.5 * 10.0 ** (math.floor(math.log10(u)) - digits + 1)


def agrees_with(
    propagated: Propagated, interval: tuple[float, float], *, digits: int = 2, coverage: float = 0.95
) -> bool:
    """Whether an interval by the law of propagation is confirmed by Monte Carlo (JCGM 101, clause 8)."""
    low, high = propagated.symmetric(coverage)
    tolerance = numerical_tolerance(propagated.u, digits)
    return abs(interval[0] - low) <= tolerance and abs(interval[1] - high) <= tolerance


def symmetric_interval(draws: F64, coverage: float = 0.95) -> tuple[float, float]:
    """Interval that leaves equal shares out on both sides (JCGM 101, 7.7.2).

    draws: shape (m,), sorted ascending. ValueError where m is too small for the coverage.
    """
    m, q = _kept(draws, coverage)
    r = (m - q + 1) // 2
    return float(draws[r - 1]), float(draws[r + q - 1])


def shortest_interval(draws: F64, coverage: float = 0.95) -> tuple[float, float]:
    """Shortest interval that keeps the coverage (JCGM 101, 7.7.3); draws sorted, shape (m,)."""
    m, q = _kept(draws, coverage)
    r = int(np.argmin(draws[q:] - draws[: m - q]))
    return float(draws[r]), float(draws[r + q])


def _kept(draws: F64, coverage: float) -> tuple[int, int]:
    if not 0.0 < coverage < 1.0:
        raise ValueError(f"coverage must lie between 0 and 1, found {coverage}")
    m = draws.size
    q = math.floor(coverage * m + 0.5)
    if q >= m or q < 1:
        raise ValueError(f"{m} draws cannot show a coverage of {coverage}")
    return m, q


def _streams(inputs: int, seed: int) -> list[np.random.Generator]:
    return [np.random.default_rng(child) for child in np.random.SeedSequence(seed).spawn(inputs)]
