"""The true spread of a few noisy places: highest minus lowest is biased upward, and this says by how much.

n even places read with noise s show a range of d2(n) x s on average (factors of the range: ASTM E2587, from
memory); two places that stand apart from the others show none of it. Which of the two a casing is cannot be
told within the noise, so both bounds are kept, each of which holds whatever the casing:

- single: the place read highest and the one read lowest are the only ones to count. Their true difference
  is at most the spread, so the upper limits from it hold.
- tied: every place that chance may have made the highest, or the lowest, is one. No more luck than that
  can be in the range (as in Tukey's studentized range), so the lower limits from it hold.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from grading.evidence import F64

DRAWS = 2000
"""Draws per bound: a chance of 5 % is then good to half a per cent."""
CHUNKS = 4
"""Classes of noise, from small to large, in each of which the tied places are found anew."""
TIED = 4.0
"""Places this many standard uncertainties apart may be equal: about the 95 % point of the range of eight."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """Equally likely values by either bound, mm, shapes (DRAWS,)."""

    single_mm: F64
    tied_mm: F64

    def p_over(self, limit_mm: float) -> float:
        """Probability of being above the limit: of the two the one nearer to 1/2, and 1/2 between them."""
        either = float(np.mean(self.single_mm > limit_mm)), float(np.mean(self.tied_mm > limit_mm))
        return sorted([*either, 0.5])[1]

    def with_error(self, mpe_mm: float, rng: np.random.Generator) -> Bounds:
        """With the gauge's permissible error, rectangular (JCGM 100:2008, 4.3.7)."""
        error = mpe_mm * np.linspace(-1.0, 1.0, self.single_mm.size)
        return Bounds(self.single_mm + rng.permutation(error), self.tied_mm + rng.permutation(error))

    def middle_mm(self) -> float:
        """Median of both together."""
        return float(np.median(np.concatenate([self.single_mm, self.tied_mm])))

    def expanded_mm(self, about_mm: float, coverage: float) -> float:
        """Half-width about `about_mm` that holds the truth with this probability by either bound."""
        either = (self.single_mm, self.tied_mm)
        return max(float(np.quantile(np.abs(values - about_mm), coverage)) for values in either)


def spread_bounds(
    places_mm: F64, sd_mm: F64, counts: F64, step_mm: float, rng: np.random.Generator
) -> Bounds:
    """Of highest minus lowest, the gauge's permissible error apart; none is negative.

    places_mm, counts: shape (n,), what each place reads and from how many readings. sd_mm: shape (DRAWS,),
    rising, of one reading without the display, whose step is step_mm.
    """
    shown = float(np.ptp(places_mm))
    order = places_mm.argsort()  # two places, also where all read the same
    low, high = order[0], order[-1]
    errors = _errors(sd_mm, counts, step_mm, rng)
    single = np.maximum(0.0, shown - (errors[high] - errors[low]))
    tied = []
    for sd in np.array_split(sd_mm, CHUNKS):
        reach = TIED * _total(sd, counts, step_mm)
        highest, lowest = places_mm >= places_mm.max() - reach, places_mm <= places_mm.min() + reach
        one = _errors(sd, counts, step_mm, rng, alike=True)
        # Equal places share where in a step they lie; far ones do not.
        other = one if np.any(highest & lowest) else _errors(sd, counts, step_mm, rng, alike=True)
        tied.append(np.maximum(0.0, shown - (one[highest].max(axis=0) - other[lowest].min(axis=0))))
    return Bounds(single, np.concatenate(tied))


def highest_bounds(
    places_mm: F64, sd_mm: F64, counts: F64, step_mm: float, rng: np.random.Generator
) -> Bounds:
    """Of the highest place; otherwise as `spread_bounds`."""
    shown = float(places_mm.max())
    single = shown - _errors(sd_mm, counts, step_mm, rng)[int(places_mm.argmax())]
    tied = []
    for sd in np.array_split(sd_mm, CHUNKS):
        highest = places_mm >= shown - TIED * _total(sd, counts, step_mm)
        tied.append(shown - _errors(sd, counts, step_mm, rng, alike=True)[highest].max(axis=0))
    return Bounds(single, np.concatenate(tied))


def _total(sd_mm: F64, counts: F64, step_mm: float) -> F64:
    """Standard uncertainty of each place, shape (n,), with the display's step (JCGM 100:2008, F.2.2.1)."""
    return np.asarray(np.sqrt(float(sd_mm.mean()) ** 2 / counts + step_mm**2 / 12.0))


def _errors(sd_mm: F64, counts: F64, step_mm: float, rng: np.random.Generator, *, alike: bool = False) -> F64:
    """What each place is read wrong by, shape (n, draws): noise and the display's rounding of each reading,
    averaged. alike: all places lie at the same point of a step, as equal ones do."""
    shape = (counts.size, sd_mm.size)
    phase = rng.uniform(0.0, step_mm, (1, sd_mm.size) if alike else shape)
    total = np.zeros(shape)
    for k in range(int(counts.max())):
        seen = phase + sd_mm * rng.standard_normal(shape)
        if step_mm > 0.0:
            seen = np.rint(seen / step_mm) * step_mm
        total += np.where(counts[:, None] > k, seen, 0.0)
    return np.asarray(total / counts[:, None] - phase)
