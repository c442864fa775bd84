"""Jumps of the whole level within a sweep: a knock, a slip, or a crankshaft that moved along its axis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from config.signs import Signs
from grading.evidence import F64, Sweep
from grading.signs.scatter import scatter_mm
from grading.surface.harmonics import columns
from grading.surface.observations import progress

# Orders that the surface itself is given while jumps are looked for, at most; and readings per order.
ORDERS, READINGS_PER_ORDER = 12, 6
# At most so many jumps are looked for in a turn.
JUMPS_MAX = 6
# Readings on either side that count as neighbours.
NEIGHBOURS = 5
# A step whose part beside the surface's harmonics is worth less than this many readings is not tried.
OWN_LEAST = 0.2


@dataclass(frozen=True, slots=True)
class Jump:
    """after: index of the first reading after it. height_mm: level after less level before."""

    after: int
    height_mm: float


def find_jumps(sweep: Sweep, signs: Signs) -> tuple[Jump, ...]:
    """Abrupt shifts of the level, in order of time; none in a sweep too sparse to tell.

    Each place between two readings is tried as a step beside a harmonic fit, all at once in closed form
    (the step's share orthogonal to the fit); the best one that its own neighbours confirm is kept and
    joins the fit, until none stands out.
    """
    n = sweep.angle_deg.size
    orders = min(ORDERS, n // READINGS_PER_ORDER)
    if orders < 1 or n < 4 * NEIGHBOURS:
        return ()
    basis = np.column_stack([np.ones(n), progress(sweep), columns(sweep.angle_deg, orders)])
    value = sweep.value_mm - float(np.mean(sweep.value_mm))
    noise = scatter_mm(sweep)
    found: list[Jump] = []
    tried = np.zeros(n, dtype=bool)
    strength, height = _strengths(basis, value)
    for _ in range(4 * JUMPS_MAX):
        at = int(np.argmax(np.where(tried, 0.0, strength)))
        strongest = 0.0 if tried[at] else float(strength[at])
        if strongest <= signs.jump_u * noise or len(found) == JUMPS_MAX:
            break
        # The harmonics bend towards a jump, which may move the best place by a reading or two.
        tried[at] = True
        near = np.arange(max(at - 2, NEIGHBOURS), min(at + 3, n - NEIGHBOURS))
        at = int(near[np.argmax(np.abs(value[near] - value[near - 1]))])
        tried[at] = True
        if any(jump.after == at for jump in found):
            continue
        if _confirmed(sweep, at, signs):
            found.append(Jump(at, float(height[at])))
            basis = np.column_stack([basis, (np.arange(n) >= at).astype(float)])
            strength, height = _strengths(basis, value)
    return _without_dents(sweep, sorted(found, key=lambda jump: jump.after), signs.dent_deg)


def _strengths(basis: F64, value: F64) -> tuple[F64, F64]:
    """Of a step before each reading, beside the basis: what it stands out by times its own uncertainty
    without noise, and its height; shape (n,) each, in mm."""
    n = value.size
    q, _ = np.linalg.qr(basis)
    rest = value - q @ (q.T @ value)
    after = np.cumsum(rest[::-1])[::-1]
    shared = np.cumsum(q[::-1], axis=0)[::-1]
    own = np.maximum(np.arange(n, 0.0, -1.0) - np.sum(shared**2, axis=1), 1e-9)
    strength = np.where(own < OWN_LEAST, 0.0, np.abs(after) / np.sqrt(own))
    strength[:NEIGHBOURS] = strength[n - NEIGHBOURS :] = 0.0
    return strength, np.asarray(after / own)


def _confirmed(sweep: Sweep, at: int, signs: Signs) -> bool:
    """Whether the neighbours, two parallel lines before and after, show the jump too."""
    near = slice(at - NEIGHBOURS, at + NEIGHBOURS)
    angle, value = sweep.angle_deg[near], sweep.value_mm[near]
    if float(np.ptp(angle)) > signs.jump_near_deg:
        return False
    # Least squares of a slope and two levels, in closed form: slope by what is left of each side's mean.
    sides, shown = angle.reshape(2, -1), value.reshape(2, -1)
    run, off = (each - each.mean(axis=1, keepdims=True) for each in (sides, shown))
    spread = float(np.sum(run**2))
    slope = float(np.sum(run * off)) / spread if spread > 1e-18 else 0.0
    apart = float(np.diff(sides.mean(axis=1))[0])
    height = float(np.diff(shown.mean(axis=1))[0]) - slope * apart
    rest, known = off - slope * run, 3 if spread > 1e-18 else 2
    step = sweep.gauge.resolution_mm
    noise = float(np.sqrt(np.sum(rest**2) / (angle.size - known) + step**2 / 12))
    u = noise * float(np.sqrt(2.0 / NEIGHBOURS + (apart**2 / spread if spread > 1e-18 else 0.0)))
    least = max(signs.jump_near_u * u, signs.jump_steps * step, signs.jump_mm)
    return abs(height) > least


def _without_dents(sweep: Sweep, jumps: list[Jump], dent_deg: float) -> tuple[Jump, ...]:
    """Without pairs of opposite jumps that are the two sides of one dent or bulge."""
    kept = list(jumps)
    i = 0
    while i + 1 < len(kept):
        apart = abs(float(sweep.angle_deg[kept[i + 1].after] - sweep.angle_deg[kept[i].after]))
        if apart < dent_deg and kept[i].height_mm * kept[i + 1].height_mm < 0:
            del kept[i : i + 2]
        else:
            i += 1
    return tuple(kept)


def jump_times(sweep: Sweep, jumps: tuple[Jump, ...]) -> F64:
    """Progress of time half-way between the readings around each jump, shape (j,)."""
    along = progress(sweep)
    return np.array([0.5 * (along[j.after - 1] + along[j.after]) for j in jumps])
