"""Whether what was told as a turn is half of one: counts per turn, a gear ratio or marks may be set wrong.

Half a turn may end at the height and with the slope at which it began. But stretched to a whole one it is no
sum of whole waves: of half waves it is, and by no more of them than a surface has. So both are asked how well
they explain the readings: first by smooth surfaces alone, a dent that was found left out; where these do not
say no, with dents and all orders. What both favour counts, which is the less of the two. Other parts of a
turn (marks that lie nearer than is told) are no sum of whole waves either, and of half waves nearly one.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np

from config.runout import SweepRules
from grading.evidence import F64, Sweep
from grading.runout.ways import DRAWS, FEATURE_FROM
from grading.signs.prepared import Prepared
from grading.signs.seam import ends_apart
from grading.surface.coverage import edge_of
from grading.surface.draws import draw
from grading.surface.explain import ORDERS_MAX, ORDERS_MAX_RUNNING, search_of
from grading.surface.harmonics import columns
from grading.surface.models import Weighed, weigh
from grading.surface.observations import Wander, gather, progress
from grading.surface.spectra import Normal, Spectra, fit, spectra

# Smooth surfaces end at these orders and fall off alike; their readings are gathered in bins of this width.
ENDS, SLOPE, BIN_DEG = (2, 4, 8, 14), 1.3, 1.5
NOTHING, HALF = 1e-6, 0.5


@dataclass(frozen=True, slots=True)
class HalfTurn:
    """log_odds: of half a turn against the turn that is told, both as likely before any reading; minus
    infinity where nothing can be said. tir_mm: true TIRs were it half of one, shape (m,), where it may be."""

    log_odds: float = -np.inf
    tir_mm: F64 = field(default_factory=lambda: np.zeros(0))


def half_turn(one: Prepared, level: Wander, weighed: Weighed, rules: SweepRules) -> HalfTurn:
    """How it is with this sweep. weighed: the surface as it was found, by what is told.

    The level may drift evenly in either, and no more: what else moves it would excuse ends that do not meet.
    """
    sweep = one.clean
    least_readings = rules.signs.half_turn_marks_min if one.running else rules.signs.half_turn_min
    if edge_of(one.sweep) > 0.0 or sweep.angle_deg.size < least_readings:
        return HalfTurn()
    even = Wander(level.drift_mm, 0.0, np.zeros(0))
    dent = weighed.feature if weighed.feature_probability > FEATURE_FROM else None
    plain = _smooth(sweep, even, HALF, dent) - _smooth(sweep, even, 1.0, dent)
    least = np.log(rules.signs.half_turn_maybe)
    apart = one.running and ends_apart(sweep, one.seen, rules)
    if plain < least and not apart:
        return HalfTurn(plain)
    data = gather(sweep, even, by_value=False)
    data = replace(data, value_mm=data.value_mm - float(np.mean(sweep.value_mm)))
    half = replace(data, angle_deg=HALF * data.angle_deg)
    orders, spread = (ORDERS_MAX_RUNNING, rules.pace_spread) if one.running else (ORDERS_MAX, 0.0)
    family, search = spectra(orders, spread=spread), search_of(sweep.gauge.resolution_mm)
    whole = weigh(data, family, search).log_evidence
    found = weigh(half, family, search)
    odds = min(plain, found.log_evidence - whole)
    if odds < least and not apart:
        return HalfTurn(odds)
    return HalfTurn(odds, draw(found, np.random.default_rng(1), DRAWS).tir_mm)


def _smooth(sweep: Sweep, even: Wander, share: float, dent: tuple[float, float] | None) -> float:
    """Log evidence for smooth surfaces where angles are this share of what is told, up to a constant.
    dent: middle and width in degrees of what is left out."""
    bins = np.floor(sweep.angle_deg / BIN_DEG)
    label = np.concatenate([[0], np.cumsum(np.diff(bins) != 0)])
    weight = np.bincount(label).astype(float)
    shown = sweep.value_mm - float(np.mean(sweep.value_mm))
    angle, along, value = (
        np.asarray(np.bincount(label, x) / weight) for x in (sweep.angle_deg, progress(sweep), shown)
    )
    within = float(np.sum((shown - value[label]) ** 2))
    if dent is not None:
        off = np.abs(np.mod(angle - dent[0] + 180.0, 360.0) - 180.0)
        weight[off <= 0.5 * dent[1]] = 0.0
    family = _smooth_family()
    x = np.concatenate([even.columns(along), columns(share * angle, family.orders)], axis=1)
    weighted = x * weight[:, None]
    squares = float(weight @ value**2) + within
    normal = Normal(x.T @ weighted, value @ weighted, squares, float(weight.sum()))
    fits = fit(normal, family, even.prior_mm(), search_of(sweep.gauge.resolution_mm))
    return float(np.logaddexp.reduce(fits.evidence))


@cache
def _smooth_family() -> Spectra:
    """One spectrum for each end; beyond it next to nothing, so that all are solved at one length, at once."""
    k = np.arange(1, ENDS[-1] + 1, dtype=float)
    shape = np.repeat(np.array([np.where(k <= end, k**-SLOPE, NOTHING) for end in ENDS]), 2, axis=1)
    shape[:, :2] = 0.0
    return Spectra(shape)
