"""The true spread of a few noisy places: highest minus lowest is biased upward, and this says by how much.

n even places read with noise s show a range of d2(n) x s on average (d2 and d3: the range's mean and
standard deviation in units of s, as tabulated in ASTM E2587; from memory). For places that do differ
the bias is less, down to none. The estimate inverts the range's own sampling distribution: a
confidence distribution, whose quantiles are the one-sided confidence limits of the true range.
"""

from __future__ import annotations

import math

import numpy as np

from grading.evidence import F64

DRAWS = 4000
"""Draws per scale: the 2.5 % quantile is then good to a few hundredths of the noise."""
SCALES = 41


def range_draws(places_mm: F64, u_mm: F64, freedom: float, rng: np.random.Generator) -> F64:
    """Equally likely values of the places' true range, mm, shape (DRAWS,), in no order; none negative.

    places_mm, u_mm: shape (n,), n >= 2: each place's reading and the standard uncertainty of its
    random part. freedom: degrees of freedom behind u_mm, infinite where it is known; finite ones
    widen the noise as Student's t does (JCGM 100:2008, G.3). The places' true pattern is taken to have
    the shape of the readings, at the scale that is sought: C(scale) = P(range >= the range read).
    """
    m = places_mm - places_mm.mean()
    shown = float(np.ptp(m))
    noise = rng.standard_normal((DRAWS, m.size)) * u_mm
    if math.isfinite(freedom):
        noise *= np.sqrt(freedom / rng.chisquare(freedom, (DRAWS, 1)))
    chances = rng.uniform(size=DRAWS)
    reach = 6.0 * float(np.max(u_mm)) * (1.0 if math.isinf(freedom) else 1.0 + 4.0 / freedom)
    if reach == 0.0:
        return np.full(DRAWS, shown)
    shape = m / shown if shown > 0.0 else np.linspace(-0.5, 0.5, m.size)
    scales = np.linspace(max(0.0, shown - reach), shown + reach, SCALES)
    chance = np.array([np.mean(np.ptp(scale * shape + noise, axis=1) >= shown) for scale in scales])
    chance = np.maximum.accumulate(chance)
    # A chance below the first scale's means: as good as no spread at all, or further off than counts.
    return np.asarray(np.interp(chances, chance, scales), dtype=np.float64)
