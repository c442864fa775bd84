"""Waves of the surface too short for the fit, found by order where each reading's angle is known.

Bands of frequency (`swings`) go by the count of readings: where the crank is barred unevenly, a wave of the
surface has another frequency from place to place there, and is missed. By angle it is one order all around,
on every turn and in every sweep, also where a wave has fewer than two readings (least-squares periodogram of
uneven samples; Lomb 1976, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from grading.evidence import F64, Sweep
from grading.runout.leftover import beyond_display
from grading.runout.swings import LONGEST, ORDERS_MOST, READINGS_MIN
from grading.surface.draws import PLACES

# So many orders may be taken out.
LINES_MAX = 4
# Places around at which they are followed, of a whole number for each place of a surface.
FINE = 4 * PLACES


@dataclass(frozen=True, slots=True)
class Lines:
    """at_mm: for each sweep, shape (n,), what they are at its readings; around_mm: shape (FINE,), around the
    turn; u_mm: of their height at a place (standard)."""

    at_mm: Sequence[F64]
    around_mm: F64
    u_mm: float


def lines_of(
    sweeps: Sequence[Sweep], left: Sequence[F64], step_mm: float, noise_mm: float, above: float
) -> Lines | None:
    """The orders in what a fit leaves over of sweeps, each shape (n,); None where they are as noise is.
    step_mm, noise_mm: of the display, and what the fit took for noise. above: no noise from so many standard
    deviations on."""
    angle = np.concatenate([sweep.angle_deg for sweep in sweeps])
    n = angle.size
    turns = sum(max(float(np.ptp(sweep.angle_deg)) / 360.0, 1.0) for sweep in sweeps)
    orders = np.arange(int(n / turns / LONGEST) + 1, int(ORDERS_MOST) + 1)
    if n < READINGS_MIN or not orders.size:
        return None
    rest = np.concatenate(left)
    columns = _columns(angle, orders)
    asked, taken = beyond_display(rest - rest.mean(), step_mm, noise_mm), np.zeros(orders.size, dtype=bool)
    while taken.sum() < LINES_MAX and np.any(asked):
        # Chance of so large a share of one order in noise: (1 - share) ** ((n - 3) / 2).
        share = np.where(taken, 0.0, _shares(columns, asked))
        best = int(np.argmax(share))
        if -0.5 * (n - 3) * np.log1p(-min(share[best], 1 - 1e-9)) < 0.5 * above**2 + np.log(orders.size):
            break
        taken[best] = True
        asked = asked - _fitted(columns[:, :, taken], asked)[0]
    if not taken.any():
        return None
    at, size = _fitted(columns[:, :, taken], rest - rest.mean())
    quiet = float(np.std(rest - at))
    parts = np.split(at, np.cumsum([sweep.angle_deg.size for sweep in sweeps])[:-1])
    places = np.asarray(np.arange(FINE) * (360.0 / FINE), dtype=np.float64)
    around = _columns(places, orders[taken]).reshape(2, FINE, -1)
    found: F64 = np.einsum("pfo,po->f", around, size)
    return Lines(parts, np.asarray(found), quiet * float(np.sqrt(2.0 * taken.sum() / n)))


def _columns(angle_deg: F64, orders: np.ndarray[tuple[int], np.dtype[np.int64]]) -> F64:
    """Cosines and sines of these orders, shape (2, n, orders)."""
    at = np.deg2rad(angle_deg)[:, None] * orders[None, :]
    return np.stack([np.cos(at), np.sin(at)])


def _shares(columns: F64, rest: F64) -> F64:
    """Of the square sum of these leftovers what each order by itself explains, shape (orders,)."""
    c, s = columns
    cc, ss, cs = (c * c).sum(0), (s * s).sum(0), (c * s).sum(0)
    a, b = rest @ c, rest @ s
    det = cc * ss - cs**2
    # Where all readings lie at one phase of an order, nothing is said of it.
    known = det > 1e-2 * (cc + ss) ** 2 / 4
    power = (ss * a * a - 2 * cs * a * b + cc * b * b) / np.where(known, det, 1.0)
    return np.asarray(np.where(known, power / float(rest @ rest), 0.0))


def _fitted(columns: F64, rest: F64) -> tuple[F64, F64]:
    """These orders together by least squares: at the readings, shape (n,), and their parts, shape (2, m)."""
    c, s = columns
    both = np.concatenate([c, s], axis=1)
    size = np.linalg.lstsq(both, rest, rcond=None)[0]
    return np.asarray(both @ size), size.reshape(2, -1)
