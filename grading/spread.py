"""The true spread of a few noisy places: highest minus lowest is biased upward, and this says by how much.

n even places read with noise s show a range of d2(n) x s on average (d2 and d3: the range's mean and
standard deviation in units of s, as tabulated in ASTM E2587; from memory). Places that do differ
show less of it, down to none, and a coarse display hides what is smaller than its step. The estimate
inverts the range's own sampling distribution: a confidence distribution, whose quantiles are the
one-sided confidence limits of the true range.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from grading.evidence import F64

DRAWS = 2000
"""Draws per pattern: the 2.5 % quantile is then good to a tenth of the noise."""
SCALES = 31
STEP_IS_NOISE = 0.5
"""A display step finer than this share of the noise is noise itself: variance step^2 / 12 added."""
PATTERN_TURNS, PATTERN_LEVELS = 150, 48
LEAST = 1e-9
"""mm: less than any gauge shows, so that no division is by zero."""


@dataclass(frozen=True, slots=True)
class Noise:
    """How places are read. u_mm: shape (n,), standard deviation of each place's figure without the
    display; freedom: degrees of freedom behind it, infinite where it is known; step_mm: the display."""

    u_mm: F64
    freedom: float
    step_mm: float

    @property
    def total_mm(self) -> F64:
        """Shape (n,): with the display's rounding as rectangular noise (JCGM 100:2008, F.2.2.1)."""
        return np.asarray(np.hypot(self.u_mm, self.step_mm / math.sqrt(12.0)))


def range_draws(places_mm: F64, noise: Noise, rng: np.random.Generator) -> F64:
    """Equally likely values of the places' true range, mm, shape (2 * DRAWS,), in no order; none negative.

    places_mm: shape (n,), n >= 2, as read. The range read says nothing of the pattern it comes from, so
    two patterns have half of the draws each: the places as read, anywhere within their display step,
    and the fewest levels that explain them, which takes places that noise cannot tell apart as equal.
    Each is scaled until its sampling distribution fits: C(scale) = P(range > the range read), and a
    random share of P(range = the range read), which a coarse display makes likely.
    """
    m = places_mm - places_mm.mean()
    half = noise.step_mm / 2.0
    # Places along the first axis: extremes over a short last one would take five times as long.
    as_read = m[:, None] + rng.uniform(-half, half, (m.size, DRAWS))
    levels = np.broadcast_to(_levels(m, noise.total_mm)[:, None], (m.size, DRAWS))
    shown = float(np.ptp(m))
    return np.concatenate([_inverted(shown, pattern, noise, rng) for pattern in (as_read, levels)])


def _inverted(shown: float, pattern: F64, noise: Noise, rng: np.random.Generator) -> F64:
    u, step = noise.u_mm, noise.step_mm
    rounds = step > STEP_IS_NOISE * float(np.max(u))
    if not rounds:
        u, step = noise.total_mm, 0.0
    errors = rng.standard_normal(pattern.shape) * u[:, None]
    if math.isfinite(noise.freedom):  # as Student's t (JCGM 100:2008, G.3)
        errors *= np.sqrt(noise.freedom / rng.chisquare(noise.freedom, DRAWS))
    if rounds:  # where the display's steps lie is as good as random
        errors += rng.uniform(0.0, step, DRAWS)
    size = np.ptp(pattern, axis=0)
    spare = np.linspace(-0.5, 0.5, pattern.shape[0])[:, None]
    unit = np.where(size > LEAST, pattern / np.maximum(size, LEAST), spare)
    tail = 1.0 if math.isinf(noise.freedom) else 1.0 + 4.0 / noise.freedom
    reach = 6.0 * tail * float(np.max(u)) + 2.0 * step + LEAST
    scales = np.linspace(max(0.0, shown - reach), shown + reach, SCALES)
    share, chance = rng.uniform(size=DRAWS), np.empty(SCALES)
    for i, scale in enumerate(scales):
        seen = scale * unit + errors
        if rounds:
            seen = np.rint(seen / step) * step
        ranges = seen.max(axis=0) - seen.min(axis=0)
        same = np.abs(ranges - shown) <= LEAST
        chance[i] = np.mean(np.where(same, share, ranges > shown))
    chance = np.maximum.accumulate(chance)
    # A chance below the first scale's means: as good as no spread at all, or further off than counts.
    return np.asarray(np.interp(rng.uniform(size=DRAWS), chance, scales), dtype=np.float64)


def _levels(m: F64, u_mm: F64) -> F64:
    """Each place's level, shape (n,): its mean under the likeliest distribution of true values.

    Non-parametric maximum likelihood by expectation and maximisation on a grid (Laird 1978, from
    memory): with noise, it comes out as a few levels.
    """
    grid = np.linspace(m.min(), m.max(), PATTERN_LEVELS)
    u = np.maximum(u_mm, LEAST)[:, None]
    likelihood = np.exp(-0.5 * np.minimum(((m[:, None] - grid) / u) ** 2, 1000.0))
    weight = np.full(PATTERN_LEVELS, 1.0 / PATTERN_LEVELS)
    for _ in range(PATTERN_TURNS):
        share = likelihood * weight
        share /= share.sum(axis=1, keepdims=True)
        weight = share.mean(axis=0)
    return np.asarray(share @ grid)
