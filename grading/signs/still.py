"""Arcs over which the readings stand still while the crank turns: end of travel, or a plunger that sticks.

A crest of a coarse display stands still as well, so standing still alone proves nothing. Two things do:
readings that do not even scatter where all others do; and an arc that disagrees with what the rest of
the turn says must lie there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import erf, log, sqrt

import numpy as np
from numpy.typing import NDArray

from config.runout import SweepRules
from config.signs import Signs
from grading.evidence import F64, Sweep
from grading.signs.scatter import scatter_mm
from grading.surface.coverage import edge_of
from grading.surface.harmonics import columns
from grading.surface.modes import Normal
from grading.surface.observations import progress
from grading.surface.spectra import Noise, fit, spectra

# Orders that the rest of the turn is given when it is asked what lies in the arc.
ORDERS = 12
# Arcs looked into, the longest first.
ARCS = 3
# Parts of an arc whose means must agree.
PARTS = 8
# Second differences are cut off at so many steps: three standard deviations of a scatter of 0.6 steps.
BENDS_MOST = 4.5
# How far a surface goes from reading to reading is told by means of so many parts of the sweep.
BLOCKS = 120
# Places in the arc at which the rest is asked, and how many surfaces.
PLACES, DRAWS = 8, 400


@dataclass(frozen=True, slots=True)
class Still:
    """Readings stand still over this arc. value_mm: what they show; at_end: whether it is the highest or
    lowest of all; proven: whether nothing but a plunger that was held explains it; passes: share of the
    smooth surfaces through the rest of the turn that pass where it stands, 0 where none was asked; rested:
    whether a crank that stood explains it."""

    from_deg: float
    to_deg: float
    value_mm: float
    at_end: bool
    proven: bool
    passes: float = 0.0
    rested: bool = False


def find_still(sweep: Sweep, rules: SweepRules, *, running: bool) -> tuple[Still, ...]:
    """Arcs over which the readings may have been held, the longest first; proven ones, or those that a
    quick look at the rest of the turn speaks against. running: angles are known at marks only."""
    step = sweep.gauge.resolution_mm
    noise, signs = single_noise(sweep), rules.signs
    found = []
    if step > 0:
        # A surface that hardly moves from reading to reading makes no display step up and down by itself.
        slow = _moves_steps(sweep) < signs.slow_steps
        for first, last in _alike(sweep, signs.held_deg, signs.still_min):
            scatters = _scatter_beside(sweep, first, last, signs.still_min)
            if scatters <= (signs.scatter_slow_steps if slow else signs.scatter_steps):
                continue
            noise_steps = signs.scatter_sure_share * scatters if noise < 0.5 * step else noise / step
            chance = (last - first + 1) * log(erf(1.0 / (2 * sqrt(2.0) * noise_steps)))
            arc = _still(sweep, first, last, 0.0, noise, proven=chance < log(signs.held_chance))
            if arc.proven or (arc.at_end and chance < log(signs.held_maybe_chance)):
                found.append(arc)
    if edge_of(sweep) > 0.0:
        return tuple(found)  # where each angle is poorly known, no arc is
    # A wide band holds sound crests too, so that arcs of it must be flat beside.
    narrow = _arcs(sweep, max(1.02 * step, signs.still_narrow * noise), rules.max_still_deg, signs.still_min)
    wide = _arcs(sweep, 1.02 * step + signs.still_wide * noise, rules.max_still_deg, signs.still_min)
    flat = [a for a in wide if is_flat(sweep.value_mm[a[0] : a[1] + 1], step, noise, signs)]
    for first, last in dict.fromkeys([*narrow, *flat]):
        off, passes = _quick_look(sweep, first, last, noise, signs, rules.pace_spread if running else 0.0)
        if passes < signs.still_maybe_share:
            found.append(replace(_still(sweep, first, last, off, noise, proven=False), passes=passes))
    return tuple(found)


def core_of(sweep: Sweep, still: Still, signs: Signs) -> Still | None:
    """What of an arc surely stood, were its plunger held: where its readings change their level they are cut,
    and the longer part is kept, until one is left that shows a single value, or flickers about one. None
    where so few readings flicker that nothing can be said."""
    into = np.mod(sweep.angle_deg - still.from_deg, 360.0)
    inside = np.flatnonzero(into <= still.to_deg - still.from_deg)
    inside = inside[np.argsort(into[inside], kind="stable")]
    at, value = into[inside], sweep.value_mm[inside]
    while (cut := _changes_at(value, signs.held_change_u)) is not None:
        kept = slice(cut) if at[cut - 1] - at[0] >= at[-1] - at[cut] else slice(cut, None)
        at, value = at[kept], value[kept]
    if at.size == 0 or (at.size < signs.held_flicker_min and np.ptp(value) > 1e-9):
        return None
    return replace(still, from_deg=still.from_deg + float(at[0]), to_deg=still.from_deg + float(at[-1]))


def _changes_at(value: F64, from_u: float) -> int | None:
    """Where values, shape (m,), change their level: the largest of the sums of what they are off their mean,
    in units of a scatter that comes of neighbours alone (as in Kolmogorov's test). None where they do not."""
    if value.size < 3:
        return None
    scatter = sqrt(float(np.mean(np.diff(value) ** 2)) / 2.0)
    off = np.abs(np.cumsum(value - value.mean())[:-1])
    at = int(np.argmax(off))
    return at + 1 if off[at] > from_u * scatter * value.size**0.5 + 1e-9 else None


def is_flat(value: F64, step_mm: float, noise_mm: float, signs: Signs) -> bool:
    """Whether readings within a band go neither up nor down over it, its two ends aside: their means in
    successive parts differ by no more than their noise, or by a part of a step."""
    parts = np.array_split(value, PARTS)[1:-1]
    fewest = min(part.size for part in parts)
    if fewest == 0:
        return True
    means = np.array([part.mean() for part in parts])
    single = sqrt(noise_mm**2 + step_mm**2 / 12)
    return bool(
        np.ptp(means) <= max(step_mm / signs.still_flat_parts, signs.still_flat_u * single / fewest**0.5)
    )


def _still(sweep: Sweep, first: int, last: int, off_mm: float, noise: float, *, proven: bool) -> Still:
    """off_mm: what the rest of the turn says of the arc at its middle, less what was read there."""
    value = sweep.value_mm[first : last + 1]
    angle = sweep.angle_deg[[first, last]]
    band = max(sweep.gauge.resolution_mm, 2.0 * noise)
    top = float(value.max()) >= float(sweep.value_mm.max()) - band
    bottom = float(value.min()) <= float(sweep.value_mm.min()) + band
    at_end = (top and off_mm > -band) or (bottom and off_mm < band)
    low, high = _around(sweep, float(angle.min()), float(angle.max()), value)
    return Still(low, high, float(np.median(value)), at_end, proven)


def _around(sweep: Sweep, low: float, high: float, value: F64) -> tuple[float, float]:
    """The arc's ends, moved on over the seam of the sweep as long as all readings there show the same."""
    into = np.mod(sweep.angle_deg - high, 360.0)
    other = (sweep.value_mm < value.min() - 1e-9) | (sweep.value_mm > value.max() + 1e-9)
    beyond = float(into[other].min()) if other.any() else 360.0
    before = float((360.0 - into[other]).min()) - (high - low) if other.any() else 0.0
    same = into[~other & (into < beyond)]
    ahead = float(same.max()) if same.size else 0.0
    back = np.mod(low - sweep.angle_deg, 360.0)
    same = back[~other & (back < max(before, 0.0))]
    return low - (float(same.max()) if same.size else 0.0), high + ahead


def single_noise(sweep: Sweep) -> float:
    """Scatter of a single reading without the display's step, in mm.

    Of few whole steps a median is 0 or a whole step, which is half a step of noise or none. Where it is
    one, the mean square of second differences lies between, single outliers cut off.
    """
    step = sweep.gauge.resolution_mm
    middle = scatter_mm(sweep)
    if step / 12**0.5 < middle < step:
        bends = np.minimum(np.abs(np.diff(sweep.value_mm, 2)), BENDS_MOST * step)
        middle = sqrt(float(np.mean(bends**2)) / 6.0)
    return sqrt(max(middle**2 - step**2 / 12, 0.0))


def _scatter_beside(sweep: Sweep, first: int, last: int, fewest: int) -> float:
    """How much the readings beside this arc scatter by themselves, in steps; 0 where that cannot be said. On
    a steep place a display steps up and down between two values without any noise, which a median of few
    whole steps takes for half a step of it; the mean square of second differences, each of two steps at most,
    does not: without noise it is one step squared at the most, and comes out as 0.29 here."""
    bends = np.abs(np.diff(sweep.value_mm, 2)) / sweep.gauge.resolution_mm
    beside = np.delete(bends, np.arange(max(first - 2, 0), min(last + 1, bends.size)))
    if beside.size < fewest:
        return 0.0
    square = float(np.mean(np.minimum(beside, 2.0) ** 2))
    return sqrt(max(square / 6 - 1 / 12, 0.0))


def _moves_steps(sweep: Sweep) -> float:
    """How far the surface goes from reading to reading, on average over the sweep, in steps."""
    n = sweep.value_mm.size
    each, more = divmod(n, min(BLOCKS, n))
    number = np.arange(min(BLOCKS, n) + 1)
    edges = number * each + np.minimum(number, more)
    means = np.add.reduceat(sweep.value_mm, edges[:-1]) / np.diff(edges)
    return float(np.sum(np.abs(np.diff(means)))) / (sweep.gauge.resolution_mm * n)


def _alike(sweep: Sweep, least_deg: float, fewest: int) -> list[tuple[int, int]]:
    """Longest stretches of successive readings that show the very same, as (first, last)."""
    ends = np.flatnonzero(np.abs(np.diff(sweep.value_mm)) > 1e-9)
    first = np.concatenate([[0], ends + 1])
    last = np.concatenate([ends, [sweep.value_mm.size - 1]])
    span = np.abs(sweep.angle_deg[last] - sweep.angle_deg[first])
    fit = np.flatnonzero((span >= least_deg) & (last - first + 1 >= fewest))
    chosen = fit[np.argsort(-span[fit], kind="stable")][:ARCS]
    return [(int(first[i]), int(last[i])) for i in chosen]


def _arcs(sweep: Sweep, within: float, least_deg: float, fewest: int) -> list[tuple[int, int]]:
    """Longest stretches of successive readings within a band, as (first, last), none in another."""
    last = np.arange(sweep.value_mm.size)
    first = _reach_back(sweep.value_mm, within)
    span = np.abs(sweep.angle_deg - sweep.angle_deg[first])
    span[(span < least_deg) | (last - first + 1 < fewest)] = -1.0
    chosen: list[tuple[int, int]] = []
    while len(chosen) < ARCS and span.max() >= 0:
        longest = int(np.argmax(span))
        low, high = int(first[longest]), longest
        chosen.append((low, high))
        span[(last >= low) & (first <= high)] = -1.0
    return chosen


def _reach_back(value: F64, within: float) -> NDArray[np.intp]:
    """For each value the first one from which on all up to it lie within a band, shape (n,): in steps of
    falling powers of two, over the highest and lowest of as many values before it."""
    n = value.size
    highest, lowest = [value], [value]  # [k][i]: of the 2^k values up to and with i
    while 2 ** len(highest) < n:
        back = 2 ** (len(highest) - 1)
        for table, extreme in ((highest, np.maximum), (lowest, np.minimum)):
            longer = table[-1].copy()
            longer[back:] = extreme(longer[back:], table[-1][:-back])
            table.append(longer)
    first = np.arange(n)
    high, low = value.copy(), value.copy()
    for k in reversed(range(len(highest))):
        before = np.maximum(first - 1, 0)
        higher, lower = np.maximum(high, highest[k][before]), np.minimum(low, lowest[k][before])
        fits = (first >= 2**k) & (higher - lower <= within)
        first = np.where(fits, first - 2**k, first)
        high, low = np.where(fits, higher, high), np.where(fits, lower, low)
    return first


def _quick_look(
    sweep: Sweep, first: int, last: int, noise: float, signs: Signs, spread: float
) -> tuple[float, float]:
    """What smooth surfaces through the rest of the turn say of the arc's middle, less what was read there,
    and how many of them pass where the readings stood all along it, as a share."""
    angle, value, scatter = sweep.angle_deg, sweep.value_mm, scatter_mm(sweep)
    arc = np.linspace(angle[first], angle[last], PLACES + 2)[1:-1]
    inside = np.interp(arc, *_rising(angle[first : last + 1], value[first : last + 1]))
    low, high = float(min(angle[first], angle[last])), float(max(angle[first], angle[last]))
    low, high = _around(sweep, low, high, value[first : last + 1])
    into = np.mod(angle - low, 360.0)
    rest = into > high - low
    if int(rest.sum()) < 2 * signs.still_min:
        return 0.0, 1.0
    along = progress(sweep)
    step = sweep.gauge.resolution_mm
    if noise < 0.5 * step:
        # Where a coarse display changes, the value is known; between, only that it lies within a step.
        both = rest[1:] & rest[:-1] & (value[1:] != value[:-1])
        angles, values, times = (0.5 * (x[1:][both] + x[:-1][both]) for x in (angle, value, along))
        start, floor = max(noise, signs.hidden_noise_mm), signs.hidden_noise_mm / 3
    else:
        angles, values, times = angle[rest], value[rest], along[rest]
        start, floor = scatter, 0.3 * scatter
    if angles.size < 2 * PLACES:
        return 0.0, 1.0
    middle = float(np.mean(values))
    family = spectra(ORDERS, spread=spread)
    x = np.column_stack([np.ones(angles.size), times, columns(angles, family.orders)])
    y = values - middle
    normal = Normal(x.T @ x, x.T @ y, float(y @ y), float(y.size))
    fits = fit(normal, family, np.array([0.5, 0.003]), Noise(start, floor_mm=floor))
    weight = np.exp(fits.evidence - fits.evidence.max())
    weight /= weight.sum()
    at = np.interp(arc, *_rising(angle[first : last + 1], along[first : last + 1]))
    z = np.column_stack([np.ones(PLACES), at, columns(arc, family.orders)])
    # Less adds nothing that a float holds.
    told = np.flatnonzero(weight > np.finfo(np.float64).eps)
    weight = weight[told]
    found, covariances = fits.posterior(told)
    means = found @ z.T + middle
    mean = weight @ means
    covariance = np.tensordot(weight, covariances, axes=1)
    apart = means - mean
    covariance = z @ covariance @ z.T + (weight[:, None] * apart).T @ apart
    covariance[np.diag_indices(PLACES)] += 1e-12
    values, vectors = np.linalg.eigh(covariance)
    normal_draws = np.random.default_rng(1).standard_normal((DRAWS, PLACES))
    drawn = mean + normal_draws * np.sqrt(np.maximum(values, 0.0)) @ vectors.T
    passes = np.max(np.abs(drawn - inside), axis=1) < may_pass_by(step, noise, signs)
    return float((mean - inside)[PLACES // 2]), float(np.mean(passes))


def may_pass_by(step_mm: float, noise_mm: float, signs: Signs) -> float:
    """How far a surface may be from what readings of it show along an arc, in mm."""
    noise = max(noise_mm, signs.hidden_noise_mm)
    return max(0.5 * step_mm + signs.still_pass * noise, signs.still_pass_least * noise)


def _rising(angle: F64, value: F64) -> tuple[F64, F64]:
    order = np.argsort(angle, kind="stable")
    return angle[order], value[order]
