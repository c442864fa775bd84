"""Readings that were folded: minus signs left off, or a dial that counts both ways turned past its end.

What went below nought, or beyond that number, comes back, and a damper at twice its limit reads like one
within. A fold shows: the readings come to one value, never go beyond, and come to it and away again at a
slope, where a surface is round. So each pair of places at which it may lie is held against none by a few
waves (least squares). Where nought is, is known; where a dial's numbers end is not: values from the outermost
reading on are tried, and of what was read by eye only.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from config.runout import SurfaceRules
from contract.terms import TYPED
from grading.evidence import F64, Sweep
from grading.signs.scatter import NOISE_LEAST_MM

# Of the readings within so much one is looked at.
BIN_DEG = 5.0
# Places at which it may be folded, those nearest to it; all pairs of them are tried.
TRIED = 24
# Values at which a dial's numbers may end that are tried.
ENDS = 6


@dataclass(frozen=True, slots=True)
class Folded:
    """log_odds: of a fold against none. said: what it is, and what it may hide."""

    log_odds: float
    said: str


def surer_than(found: Sequence[Folded], odds: float) -> list[str]:
    """What is said of the likeliest fold, where it is this many times as likely as none."""
    return [one.said for one in found if one.log_odds > np.log(odds)][:1]


def folded(sweep: Sweep, rules: SurfaceRules) -> list[Folded]:
    """How it is with this sweep, the likeliest first; none where nothing speaks for a fold behind which it
    may be over."""
    angle, value = thinned(sweep)
    step, asked = sweep.gauge.resolution_mm, rules.sweep.signs
    if value.size < asked.unsigned_min:
        return []
    orders = 3 if value.size >= asked.unsigned_waves_min else 2
    waves = np.deg2rad(np.outer(angle, np.arange(1, orders + 1)))
    basis, _ = np.linalg.qr(np.column_stack([np.ones(angle.size), np.cos(waves), np.sin(waves)]))
    freedom, plain = value.size - basis.shape[1], _left(value[None], basis)[0]
    # A rounded reading leaves this even where the fit is exact (JCGM 100:2008, F.2.2.1).
    least = value.size * max(step**2 / 12, NOISE_LEAST_MM**2)
    if freedom / 2 * np.log((plain + least) / least) <= np.log(asked.unsigned_maybe):
        return []
    found = []
    for said, ends in _ends(sweep, value):
        best, tried = (-np.inf, 0.0, 0.0, 0.0), 0
        for end, away in ends:
            signs = _signs(away)
            if not len(signs):
                continue
            tried += len(signs)
            left = _left(away * signs, basis)
            at = int(np.argmin(left))
            odds = freedom / 2 * float(np.log((plain + least) / (left[at] + least)))
            if odds > best[0]:
                best = odds, float(np.ptp(away * signs[at])), float(left[at] / freedom) ** 0.5, end
        odds, tir_mm, scatter_mm, end = best
        # A rough surface is no better explained than before: what is left over must be a dial's noise.
        if not tried or scatter_mm > np.hypot(rules.sweep.max_noise_mm, step):
            continue
        if tir_mm + sweep.gauge.mpe_mm + 2 * step + 2 * scatter_mm > rules.limit_mm:
            found.append(Folded(odds - float(np.log(tried)), said.format(end=end, tir=tir_mm)))
    return sorted(found, key=lambda one: -one.log_odds)


NOUGHT = (
    "the readings come down to nought and turn up again there, as where minus signs were left off: with "
    "them it may have moved by {tir:.2f} mm; take the sweep again with its signs, or with the gauge "
    "set so that it stays above nought all around"
)
END = (
    "the readings come to {end:.2f} mm and turn back there, as on a dial that counts both ways and was "
    "turned past its end number: beyond that it may have moved by {tir:.2f} mm; take the sweep again with "
    "the dial set to nought half-way, and write its signs down"
)


def _ends(sweep: Sweep, value: F64) -> Iterator[tuple[str, list[tuple[float, F64]]]]:
    """What is said of each kind of fold, and the values at which it may lie, each with how far the readings
    are from it."""
    step = sweep.gauge.resolution_mm
    if value.min() >= -step / 2:
        yield NOUGHT, [(0.0, value)]
    if sweep.gauge.id != TYPED:
        return
    way = max(float(np.median(np.abs(np.diff(np.append(value, value[0]))))), step)
    beyond = np.linspace(0.0, way, ENDS)
    yield (
        END,
        [
            *((float(value.max() + more), value.max() + more - value) for more in beyond),
            *((float(value.min() - more), value - value.min() + more) for more in beyond),
        ],
    )


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
    one, other = (places[which][:, None] for which in np.triu_indices(places.size, 1))
    number = np.arange(value.size)
    changed = (number > np.minimum(one, other)) & (number <= np.maximum(one, other))
    return np.where(changed, -1.0, 1.0)


def _left(values: F64, basis: F64) -> F64:
    """Of each row, the sum of squares that the waves leave over."""
    return np.asarray(np.sum(values**2, axis=1) - np.sum((values @ basis) ** 2, axis=1))
