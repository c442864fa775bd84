"""Readings whose minus signs were left off: of a dial that counts both ways, or in a gauge's frames.

What went below nought is folded up, and a damper at twice its limit reads like one within. A fold shows: the
readings touch nought, never go below, and come down to it and up again at a slope, where a surface is round.
So each pair of places at which the sign may have changed is held against none by a few waves (least squares).
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from config.runout import SurfaceRules
from grading.evidence import F64, Sweep

# Waves a turn that are fitted both ways, and of how many readings at least; fewer readings tell nothing.
ORDERS = {3: 18, 2: 11}
BIN_DEG = 5.0
# Places at which the sign may have changed, the lowest readings; all pairs of them are tried.
TRIED = 24


def unsigned_faults(sweep: Sweep, rules: SurfaceRules) -> list[str]:
    """Why such a sweep is not graded: with its signs it may be over."""
    angle, value = thinned(sweep)
    step = sweep.gauge.resolution_mm
    orders = next((orders for orders, least in ORDERS.items() if value.size >= least), 0)
    if not orders or value.min() < -step / 2:
        return []
    signs = _signs(value)
    if not len(signs):
        return []
    waves = np.deg2rad(np.outer(angle, np.arange(1, orders + 1)))
    basis, _ = np.linalg.qr(np.column_stack([np.ones(angle.size), np.cos(waves), np.sin(waves)]))
    folded = _left(value[None], basis)[0]
    unfolded = value * signs
    left = _left(unfolded, basis)
    # A rounded reading leaves this even where the fit is exact (JCGM 100:2008, F.2.2.1).
    least = value.size * step**2 / 12
    best = int(np.argmin(left))
    freedom = value.size - basis.shape[1]
    log_odds = freedom / 2 * np.log((folded + least) / (left[best] + least)) - np.log(len(unfolded))
    tir_mm, scatter_mm = float(np.ptp(unfolded[best])), float(left[best] / freedom) ** 0.5
    # A rough surface is no better explained than before: what is left over must be a dial's noise.
    if scatter_mm > np.hypot(rules.sweep.max_noise_mm, step):
        return []
    may_be_mm = tir_mm + sweep.gauge.mpe_mm + 2 * step + 2 * scatter_mm
    if log_odds <= np.log(rules.sweep.signs.unsigned_odds) or may_be_mm <= rules.limit_mm:
        return []
    return [
        "the readings come down to nought and turn up again there, as where minus signs were left off: with "
        f"them it may have moved by {tir_mm:.2f} mm; take the sweep again with its signs, or with the gauge "
        "set so that it stays above nought all around"
    ]


def thinned(sweep: Sweep) -> tuple[F64, F64]:
    """Angles within the turn, in order, and their values: of the first turn one reading in each bin."""
    turned = sweep.angle_deg - sweep.angle_deg[0]
    bins = np.floor(np.abs(turned) / BIN_DEG)
    _, first = np.unique(bins[bins < 360.0 / BIN_DEG], return_index=True)
    angle = np.abs(turned[bins < 360.0 / BIN_DEG][first])
    return angle, sweep.value_mm[bins < 360.0 / BIN_DEG][first]


def _signs(value: F64) -> F64:
    """For each pair of places at which the sign may have changed, the signs, shape (m, n)."""
    between = value + np.roll(value, -1)
    # Nought lies between two readings whose sum is no more than a neighbour's way.
    way = np.maximum(np.abs(np.roll(value, 1) - value), np.abs(np.roll(value, -2) - np.roll(value, -1)))
    places = np.flatnonzero(between <= 2 * np.maximum(way, np.median(np.abs(np.diff(value)))))
    places = places[np.argsort(between[places])[:TRIED]]
    number = np.arange(value.size)
    pairs = [(min(pair), max(pair)) for pair in combinations(places.tolist(), 2)]
    return np.array([np.where((number > one) & (number <= other), -1.0, 1.0) for one, other in pairs])


def _left(values: F64, basis: F64) -> F64:
    """Of each row, the sum of squares that the waves leave over."""
    return np.asarray(np.sum(values**2, axis=1) - np.sum((values @ basis) ** 2, axis=1))
