"""Whether the unit of a gauge was switched while it swept, where its numbers do not say their unit.

Where it showed next to nought nothing leaps then, and drivers.switching has nothing to go by. But from that
moment on the numbers are so many times what they would have been: the slope has a kink there, and the second
pass over the start is as much flatter or steeper. So each moment at which it may have been is held against
none: first by smooth surfaces alone; where these do not say no, with dents and all orders.

It shows nothing where the surface had not moved yet (the whole sweep is then in the other unit), and less
from mark to mark, where the pace is not known either.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from config.runout import SweepRules
from grading.evidence import F64, Sweep
from grading.runout.leftover import correlation
from grading.runout.ways import DRAWS
from grading.signs.prepared import Prepared
from grading.surface.draws import draw
from grading.surface.explain import ORDERS_MAX, ORDERS_MAX_RUNNING, search_of
from grading.surface.models import mean_surface, weigh
from grading.surface.observations import Wander, gather, progress
from grading.surface.smooth import BIN_DEG, Binned
from grading.surface.spectra import spectra

# What a number becomes: to inches with as many decimals, one or two more; to millimetres with as many, one or
# two fewer. Which of them, the gauge's step tells: those of a display of inches are whole multiples of this.
TO_INCHES, TO_MM = (1 / 25.4, 10 / 25.4, 100 / 25.4), (25.4, 2.54, 0.254)
INCH_STEP_MM, WHOLE = 0.000127, 1e-3
# What is left over is looked at over so many readings, and is not alike below this.
LAGS_MAX, NO_CORRELATION = 60, 0.1
# Moments that are tried at first; and next to the best of them.
TRIED, NEAR = 24, 3


@dataclass(frozen=True, slots=True)
class Switched:
    """log_odds: of a switch against none; minus infinity where nothing speaks for one. at_deg: where.
    tir_mm: true TIRs were it so, shape (m,), where it may be."""

    log_odds: float = -np.inf
    at_deg: float = 0.0
    tir_mm: F64 = field(default_factory=lambda: np.zeros(0))


def switched(one: Prepared, level: Wander, rules: SweepRules) -> Switched:
    """How it is with this sweep."""
    sweep = one.clean
    if not sweep.gauge.unit_hidden:
        return Switched()
    spread = rules.pace_spread if one.running else 0.0
    even = Wander(level.drift_mm, 0.0, np.zeros(0))
    search = search_of(sweep.gauge.resolution_mm)
    plain = Binned(sweep, sweep.value_mm).evidence(even, search)

    def odds(at: int, ratio: float) -> float:
        return Binned(sweep, sweep.value_mm, times=_times(sweep, at, ratio)).evidence(even, search) - plain

    least, found = float(np.log(rules.signs.switched_maybe)), []
    for ratio in _ratios(sweep):
        best, at = _likeliest(
            _moments(sweep, ratio, rules.signs.switched_leap_steps), partial(odds, ratio=ratio)
        )
        if best >= least:
            in_full = _in_full(sweep, even, at, ratio, spread)
            found.append(replace(in_full, log_odds=min(best, in_full.log_odds)))
    found = [one for one in found if one.log_odds >= least]
    if not found:
        return Switched()
    most = max(found, key=lambda one: one.log_odds)
    return replace(most, tir_mm=np.concatenate([one.tir_mm for one in found]))


def _likeliest(moments: Sequence[int], odds: Callable[[int], float]) -> tuple[float, int]:
    """Of these moments, minus infinity where there are none: some all over, then those next to the best."""
    each = max(len(moments) // TRIED, 1)
    tried = {at: odds(at) for at in moments[::each]}
    if not tried:
        return -np.inf, 0
    middle = moments.index(max(tried, key=tried.__getitem__))
    for at in moments[max(middle - NEAR * each, 0) : middle + NEAR * each + 1]:
        tried.setdefault(at, odds(at))
    at = max(tried, key=tried.__getitem__)
    return tried[at], at


def _in_full(sweep: Sweep, even: Wander, at: int, ratio: float, spread: float) -> Switched:
    """The same with dents and all orders, for the one moment. spread: of the pace between marks."""
    along, step = progress(sweep), sweep.gauge.resolution_mm
    data = gather(sweep, replace(even, steps=along[at : at + 1]), by_value=False)
    data = replace(data, nuisance=data.nuisance[:, :-1], prior_mm=data.prior_mm[:-1])
    times = np.where(data.along >= along[at], ratio, 1.0)
    # A number that is so many times the surface, give or take one noise, is the surface give or take less.
    other = replace(data, value_mm=data.value_mm / times, weight=data.weight * times**2)
    family = spectra(ORDERS_MAX_RUNNING if spread > 0.0 else ORDERS_MAX, spread=spread)
    search = search_of(step)
    none, some = weigh(data, family, search), weigh(other, family, search)
    level = other.nuisance @ some.best.mean[: some.leading]
    left = data.value_mm - times * (mean_surface(some, data.angle_deg) + level)
    odds = (some.log_evidence - none.log_evidence) / _alike(left)
    tir = draw(some, np.random.default_rng(1), DRAWS).tir_mm
    return Switched(odds, float(sweep.angle_deg[at]), tir)


def _alike(left_mm: F64) -> float:
    """How many readings count as one where noise runs on: one and twice the sum of what is left over's
    correlations, up to the first that is none (the variance of a mean of such, a textbook's)."""
    left = left_mm - float(np.mean(left_mm))
    if not float(left @ left) > 0.0:
        return 1.0
    total = 1.0
    for lag in range(1, min(LAGS_MAX, left.size // 2)):
        share = correlation(left, lag)
        if share < NO_CORRELATION:
            break
        total += 2.0 * share
    return total


def _times(sweep: Sweep, at: int, ratio: float) -> F64:
    return np.where(np.arange(sweep.value_mm.size) < at, 1.0, ratio)


def _ratios(sweep: Sweep) -> Sequence[float]:
    steps = sweep.gauge.resolution_mm / INCH_STEP_MM
    return TO_MM if steps > 0.5 and abs(steps - round(steps)) < WHOLE else TO_INCHES


def _moments(sweep: Sweep, ratio: float, leap_steps: float) -> list[int]:
    """The readings, one in each bin of angle, from which on it may have been: no leap was told there."""
    value = sweep.value_mm
    leap = np.minimum(np.abs(value[:-1]), np.abs(value[1:]) / ratio) * abs(ratio - 1.0)
    small: NDArray[np.intp] = np.flatnonzero(leap <= leap_steps * sweep.gauge.resolution_mm) + 1
    bins = np.floor(sweep.angle_deg[small] / BIN_DEG)
    first = np.concatenate([[True], np.diff(bins) != 0]) if small.size else np.zeros(0, dtype=bool)
    return [int(at) for at in small[first]]
