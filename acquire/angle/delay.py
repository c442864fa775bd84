"""How much later the gauge's readings come than is stated, against the encoder's: from the readings. Pure.

Where the crank passes a place at different paces, or forward and back, a gauge that is late by d shows each
time the surface of where the crank was d ago: value = S(angle - d·pace), S once around whatever it is. To
first order that is S - d·S'·pace, so a least-squares fit of S (harmonics), d, and what else goes with the
sense of turning (a gauge's hysteresis; play between crank and encoder, S'·sign of pace) tells d, and how
well: its standard uncertainty is taken over stretches of barring (a sandwich, as what is left over within one
is not independent). A crank barred evenly one way tells nothing of d, and the uncertainty says so.

What is stated stays where this is no better known. Where it is, the two are joined by their uncertainties;
where they contradict each other, what the readings say counts, and the result says so.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from acquire.angle.spell import I64
from grading.evidence import F64, Delay

AngleAt = Callable[[I64, float], F64]

ORDERS = 16
"""Harmonics of the surface that are fitted; own choice: what is finer is left over, and widens."""
LOOKED_MAX = 40_000
"""Readings of which the pace is looked at, evenly chosen."""
READINGS_MAX = 3_000
"""Readings of a moving crank that are looked at, evenly chosen."""
PACE_MIN_DEG_S = 2.0
"""The crank moves; below, nothing tells of a delay."""
TELLING_MIN = 8
"""Stretches of barring without which nothing is said."""
PACE_OVER_S = 0.1
"""A pace is taken over so long."""
LOOKS = 3
"""Times that the fit is made, each about the delay found before."""
DELAY_MAX_S = 0.5
"""No gauge is later; what asks for more is something else."""
CONTRADICTS = 5.0
"""Stated and found contradict each other from so many standard uncertainties on; own choice."""
POOR_S = 0.01
"""What is found less well than this, and than what is stated, contradicts nothing; own choice."""
FEW = 1.25
"""By how much few stretches make it less sure."""


def delay_of(angle_at: AngleAt, value: F64, stated_u_s: float) -> Delay | None:
    """What the readings of a turn, in order of time, say; None where they say nothing.

    angle_at(numbers, earlier_s): of the readings of these numbers, where the crank was so much earlier than
    they are of, degrees; nan where it was not watched. stated_u_s: what is stated of both latencies together,
    standard.
    """
    numbers = np.linspace(0, value.size - 1, min(value.size, LOOKED_MAX)).astype(np.int64)
    pace = _pace(angle_at, numbers, 0.0)
    moves = np.abs(pace) >= PACE_MIN_DEG_S
    moving, pace = numbers[moves], pace[moves]
    # A stretch of barring is one way, without a stop.
    breaks = (np.diff(np.flatnonzero(moves)) > 1) | (np.diff(np.sign(pace)) != 0)
    stretch = np.concatenate([[0], np.cumsum(breaks)])[: moving.size]
    some = np.linspace(0, moving.size - 1, min(moving.size, READINGS_MAX)).astype(np.int64)
    orders = min(ORDERS, some.size // 16)
    if orders < 1 or stretch[-1] + 1 < TELLING_MIN:
        return None
    later_s, u_s = 0.0, np.inf
    for _ in range(LOOKS):
        angle, pace = angle_at(moving[some], later_s), _pace(angle_at, moving[some], later_s)
        seen = np.isfinite(angle) & np.isfinite(pace)
        step, u_s = _fitted(
            np.deg2rad(angle[seen]),
            np.deg2rad(pace[seen]),
            value[moving[some]][seen],
            stretch[some][seen],
            orders,
        )
        later_s += step
        if not abs(later_s) <= DELAY_MAX_S:
            return None
    return _joined(later_s, u_s, stated_u_s)


def _pace(angle_at: AngleAt, numbers: I64, earlier_s: float) -> F64:
    """Degrees a second."""
    before = angle_at(numbers, earlier_s + PACE_OVER_S / 2.0)
    return (angle_at(numbers, earlier_s - PACE_OVER_S / 2.0) - before) / PACE_OVER_S


def _joined(later_s: float, u_s: float, stated_u_s: float) -> Delay | None:
    """What was found, with what is stated: 0, give or take stated_u_s."""
    if u_s <= max(POOR_S, stated_u_s) and abs(later_s) > CONTRADICTS * np.hypot(u_s, stated_u_s):
        return Delay(later_s, u_s, stated_u_s, contradicts=True)
    if u_s >= stated_u_s:
        return None
    share = stated_u_s**2 / (stated_u_s**2 + u_s**2)
    return Delay(share * later_s, share**0.5 * u_s, stated_u_s, contradicts=False)


def _fitted(angle: F64, pace: F64, y: F64, stretch: I64, orders: int) -> tuple[float, float]:
    """How much later yet, and its standard uncertainty, seconds; angles in radians."""
    k = np.arange(1, orders + 1)
    cos, sin = np.cos(np.outer(angle, k)), np.sin(np.outer(angle, k))
    drift = np.linspace(-1.0, 1.0, angle.size)[:, None]
    sense = np.sign(pace)[:, None]
    around = np.hstack([np.ones_like(drift), drift, sense, cos, sin])
    shape = np.linalg.lstsq(around, y, rcond=None)[0]
    a, b = shape[3 : 3 + orders], shape[3 + orders :]
    slope = (sin @ (-a * k) + cos @ (b * k))[:, None]
    both = np.hstack([around, slope * sense, -slope * pace[:, None]])
    # What of the last column no other explains tells the delay (Frisch, Waugh and Lovell).
    rest, tells = both[:, :-1], both[:, -1]
    basis = np.linalg.qr(rest)[0]
    alone = tells - basis @ (basis.T @ tells)
    left = y - basis @ (basis.T @ y)
    weight = float(alone @ alone)
    if weight <= 1e-9 * float(tells @ tells):
        return 0.0, np.inf
    later = float(alone @ left) / weight
    left = left - later * alone
    each = np.bincount(stretch, weights=alone * left)
    free = max(y.size - both.shape[1], 1)
    by_stretch = FEW * np.sqrt(float(each @ each)) / weight
    by_reading = np.sqrt(float(left @ left) / free / weight)
    return later, float(max(by_stretch, by_reading))
