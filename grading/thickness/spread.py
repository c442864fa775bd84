"""The true spread of a few noisy places: highest minus lowest is biased upward, and this says by how much.

n even places read with noise s show a range of d2(n) x s on average (factors of the range: ASTM E2587, from
memory); two places that stand apart from the others show none of it. Which of the two a casing is cannot be
told within the noise, so both bounds are kept, each of which holds whatever the casing:

- single: the place read highest and the one read lowest are the only ones to count. Their true difference
  is at most the spread, so the upper limits from it hold.
- tied: every place that chance may have made the highest, or the lowest, is one. No more luck than that
  can be in the range (as in Tukey's studentized range), so the lower limits from it hold.

Nor can it be told how the true spread lies to the steps of the display. Where readings repeat to far less
than a step, one truth is shown a step too high or too low seldom and another often, and reading again shows
the same; the gauge's permissible error (rectangular, JCGM 100:2008, 4.3.7) moves what is rounded. So every
bound is drawn for truths all over a step, with the noise as far as it is known and with the least that it may
be, and what is said holds for the worst of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from grading.evidence import F64
from grading.surface.tir import spread_mm

DRAWS = 2000
"""Draws per bound: a chance of 5 % is then good to half a per cent."""
CHUNKS = 4
"""Classes of noise, from small to large, in each of which the tied places are found anew."""
TIED = 4.0
"""Places this many standard uncertainties apart may be equal: about the 95 % point of the range of eight."""
PHASES = 20
"""Places of the truth between two steps of the display that are tried."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """Equally likely values by either bound, mm, shapes (2 PHASES, DRAWS): in each row the truth lies at one
    place between two steps of the display, and in the second half of them the noise is the least."""

    single_mm: F64
    tied_mm: F64

    def on_average(self) -> Bounds:
        """As if truths were spread evenly over the steps: enough where the noise may be far more than one."""
        return Bounds(*(rows[:PHASES].reshape(1, -1) for rows in (self.single_mm, self.tied_mm)))

    def p_over(self, limit_mm: float) -> float:
        """Probability of being above the limit: of all rows of both the one nearest to 1/2, and 1/2 between
        them."""
        over = np.mean(np.concatenate([self.single_mm, self.tied_mm]) > limit_mm, axis=1)
        return sorted([float(over.min()), float(over.max()), 0.5])[1]

    def middle_mm(self) -> float:
        """Median of both together, with the noise as far as it is known."""
        return float(np.median(np.concatenate([self.single_mm[:PHASES], self.tied_mm[:PHASES]])))

    def spread_mm(self) -> float:
        """Standard uncertainty of the wider one, with the noise as far as it is known."""
        return max(spread_mm(rows[:PHASES]) for rows in (self.single_mm, self.tied_mm))

    def expanded_mm(self, about_mm: float, coverage: float) -> float:
        """Half-width about `about_mm` that holds the truth with this probability by every row of both."""
        off = np.abs(np.concatenate([self.single_mm, self.tied_mm]) - about_mm)
        return float(np.quantile(off, coverage, axis=1).max())


def spread_bounds(
    places_mm: F64, sd_mm: F64, counts: F64, step_mm: float, mpe_mm: float, rng: np.random.Generator
) -> Bounds:
    """Of highest minus lowest; none is negative.

    places_mm, counts: shape (n,), what each place reads and from how many readings. sd_mm: shape (DRAWS,),
    rising, of one reading without the display, whose step is step_mm. mpe_mm: of the difference of two.
    """
    shown = float(np.ptp(places_mm))
    order = places_mm.argsort()  # two places, also where all read the same
    pair = counts[order[[-1, 0]]]

    def single(sd: F64) -> F64:
        start, error = rng.uniform(0.0, step_mm, sd.size), _rectangular(mpe_mm, sd.size, rng)
        one = _errors(sd, pair[:1], step_mm, rng, start + error + _phases(step_mm))
        other = _errors(sd, pair[1:], step_mm, rng, start)
        return np.asarray(shown - error - (one[0] - other[0]))

    def tied(sd: F64) -> F64:
        reach = TIED * _total(sd, counts, step_mm)
        highest, lowest = places_mm >= places_mm.max() - reach, places_mm <= places_mm.min() + reach
        start, error = rng.uniform(0.0, step_mm, sd.size), _rectangular(mpe_mm, sd.size, rng)
        if np.any(highest & lowest):  # equal places share where in a step they lie
            one = _errors(sd, counts, step_mm, rng, start)
            apart = one[highest].max(axis=0) - one[lowest].min(axis=0)
        else:
            one = _errors(sd, counts[highest], step_mm, rng, start + error + _phases(step_mm))
            apart = one.max(axis=0) - _errors(sd, counts[lowest], step_mm, rng, start).min(axis=0)
        return np.asarray(shown - error - np.broadcast_to(apart, (PHASES, sd.size)))

    return Bounds(np.maximum(0.0, _both(sd_mm, single, 1)), np.maximum(0.0, _both(sd_mm, tied, CHUNKS)))


def highest_bounds(
    places_mm: F64, sd_mm: F64, counts: F64, step_mm: float, mpe_mm: float, rng: np.random.Generator
) -> Bounds:
    """Of the highest place; otherwise as `spread_bounds`."""
    shown, at, highest = float(places_mm.max()), _phases(step_mm), counts[[int(places_mm.argmax())]]

    def single(sd: F64) -> F64:
        error = _rectangular(mpe_mm, sd.size, rng)
        return np.asarray(shown - error - _errors(sd, highest, step_mm, rng, at + error)[0])

    def tied(sd: F64) -> F64:
        may_be = counts[places_mm >= shown - TIED * _total(sd, counts, step_mm)]
        error = _rectangular(mpe_mm, sd.size, rng)
        return np.asarray(shown - error - _errors(sd, may_be, step_mm, rng, at + error).max(axis=0))

    return Bounds(_both(sd_mm, single, 1), _both(sd_mm, tied, CHUNKS))


def _both(sd_mm: F64, bound: Callable[[F64], F64], chunks: int) -> F64:
    """A bound with the noise as far as it is known, in so many classes, and with the least of it."""
    known = np.concatenate([bound(sd) for sd in np.array_split(sd_mm, chunks)], axis=1)
    return np.concatenate([known, bound(np.full(sd_mm.size, sd_mm[0]))])


def _rectangular(half_mm: float, count: int, rng: np.random.Generator) -> F64:
    """Evenly between both ends, in any order, mm, shape (count,)."""
    return np.asarray(half_mm * rng.permutation(np.linspace(-1.0, 1.0, count)))


def _phases(step_mm: float) -> F64:
    """Places all over a step, mm, shape (PHASES, 1)."""
    return np.asarray(step_mm * np.arange(PHASES)[:, None] / PHASES)


def _total(sd_mm: F64, counts: F64, step_mm: float) -> F64:
    """Standard uncertainty of each place, shape (n,), with the display's step (JCGM 100:2008, F.2.2.1)."""
    return np.asarray(np.sqrt(float(sd_mm.mean()) ** 2 / counts + step_mm**2 / 12.0))


def _errors(sd_mm: F64, counts: F64, step_mm: float, rng: np.random.Generator, at_mm: F64) -> F64:
    """What places are read wrong by, mm, shape (n, PHASES, draws), or one row of it for each that at_mm has:
    noise and the display's rounding of each reading, averaged. at_mm: where in a step they lie, shape
    (draws,) or (PHASES, draws or 1)."""
    at = np.broadcast_to(at_mm, (*at_mm.shape[:-1], sd_mm.size))
    total = np.zeros((counts.size, *at.shape))
    for k in range(int(counts.max())):
        noise = sd_mm * rng.standard_normal((counts.size, sd_mm.size))
        seen = at + (noise if at.ndim == 1 else noise[:, None, :])
        if step_mm > 0.0:
            seen = np.rint(seen / step_mm) * step_mm
        total += np.where(_aligned(counts, total) > k, seen, 0.0)
    return np.asarray(total / _aligned(counts, total) - at)


def _aligned(counts: F64, like: F64) -> F64:
    """Along the first axis of another."""
    return counts.reshape(-1, *[1] * (like.ndim - 1))
