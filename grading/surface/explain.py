"""The surface that sweeps have read: all that their readings leave possible, the display's steps taken for
what they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from grading.evidence import F64, Sweep
from grading.surface.features import bumps, single
from grading.surface.models import FOUND_MM, Hint, Weighed, design, mean_surface, weigh
from grading.surface.observations import Observations, Wander, gather, pooled
from grading.surface.quantised import NOISE_MM, propagate
from grading.surface.spectra import Noise, spectra

# Highest order looked for, where angles are known one by one and where they run on between marks.
ORDERS_MAX, ORDERS_MAX_RUNNING = 20, 30
# Readings are taken as intervals where the noise, the display's included, is below this share of a step.
INTERVAL_BELOW = 0.65
# Where the search for the noise begins at the least, in mm.
NOISE_START_MM = 0.0003
# Half the distance over which a slope is taken, in degrees.
SLOPE_DEG = 0.25
# Angle errors are weighed in where anywhere they exceed this share of the noise's variance.
MATTERS = 0.3
# Angles that are known worse than this (standard, degrees) visibly flatten what is read of a surface.
SMEARS_FROM_DEG = 0.4


@dataclass(frozen=True, slots=True)
class Posterior:
    """What is known of the surface. noise_mm: standard deviation of a single reading's noise; display_mm:
    what the display's step adds to it. intervals: whether readings were taken as intervals."""

    weighed: Weighed
    noise_mm: float
    display_mm: float
    intervals: bool


def explain(sweeps: Sequence[Sweep], wanders: Sequence[Wander], *, spread: float) -> Posterior:
    """The posterior over surfaces of sweeps by one gauge. wanders: how each one's level may move.
    spread: how unevenly their angles run between marks (relative; 0 where each is known by itself)."""
    step = sweeps[0].gauge.resolution_mm
    family = spectra(ORDERS_MAX_RUNNING if spread > 0 else ORDERS_MAX, spread=spread)

    def gathered(*, by_value: bool) -> Observations:
        each = zip(sweeps, wanders, strict=True)
        data = pooled([_centred(gather(sweep, wander, by_value=by_value), sweep) for sweep, wander in each])
        poor = spread == 0 and float(data.angle_u_deg.max()) > SMEARS_FROM_DEG
        return replace(data, smear_deg=data.angle_u_deg) if poor else data

    data = gathered(by_value=False)
    uniform = step / 12**0.5
    search = search_of(step)
    first = weigh(data, family, search)
    best = first.best
    noise = float(np.sqrt(max(best.noise**2 - uniform**2, 0.01 * best.noise**2)))
    again = Hint(first.worth, first.feature)
    intervals = step > 0 and best.noise <= INTERVAL_BELOW * step
    if not intervals:
        extra = _angle_variance(first, data) if spread == 0 else np.zeros(1)
        if float(extra.max()) > MATTERS * best.noise**2:
            share = 1.0 / (1.0 + extra / best.noise**2)
            data = replace(data, weight=data.weight * share, within=data.within * float(share.mean()))
            first = weigh(data, family, search, again)
            noise = float(np.sqrt(max(first.best.noise**2 - uniform**2, 0.01 * first.best.noise**2)))
        return Posterior(first, noise, uniform, False)
    data = gathered(by_value=True)
    x = design(data, family.orders, first.local if best.match is not None else None)
    prior = best.prior
    if best.match is not None and first.feature is not None:
        x = np.concatenate([x, bumps(single(first.feature), data.angle_deg)], axis=1)
        prior = np.append(prior, FOUND_MM)
    extra = _angle_variance(first, data) if spread == 0 else np.zeros(data.angle_deg.size)
    sites = propagate(x, prior, data.value_mm, data.weight, extra, step, max(noise, NOISE_START_MM))
    pseudo = replace(data, value_mm=sites.value_mm, weight=data.weight * sites.weight, bound=4.0 / step**2)
    second = weigh(pseudo, family, Noise(1.0, known=True), again)
    display = float(np.sqrt(max(data.count / float(pseudo.weight.sum()) - sites.noise_mm**2, 0.0)))
    return Posterior(second, sites.noise_mm, display, True)


def search_of(step_mm: float) -> Noise:
    """Where the search for the noise of a display of this step begins."""
    uniform = step_mm / 12**0.5
    return Noise(float(np.hypot(NOISE_MM, uniform)), floor_mm=0.3 * uniform + 1e-6)


def _angle_variance(weighed: Weighed, data: Observations) -> F64:
    """What the error of each angle by itself does to its reading: (slope times u)^2, shape (g,), in mm^2."""
    low, high = (mean_surface(weighed, data.angle_deg + d) for d in (-SLOPE_DEG, SLOPE_DEG))
    return np.asarray(((high - low) / (2 * SLOPE_DEG) * data.angle_u_deg) ** 2)


def _centred(data: Observations, sweep: Sweep) -> Observations:
    return replace(data, value_mm=data.value_mm - float(np.mean(sweep.value_mm)))
