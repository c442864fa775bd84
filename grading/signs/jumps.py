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
    return _without_dents(sweep, sorted(found, key=lambda jump: jump.after), signs)


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
    angle, value = sweep.angle_deg[near].tolist(), sweep.value_mm[near].tolist()
    if max(angle) - min(angle) > signs.jump_near_deg:
        return False
    # Least squares of a slope and two levels, in closed form: slope by what is left of each side's mean. So
    # few numbers are quicker by themselves than as arrays.
    run_before, at_before = _about_mean(angle[:NEIGHBOURS])
    run_after, at_after = _about_mean(angle[NEIGHBOURS:])
    off_before, before = _about_mean(value[:NEIGHBOURS])
    off_after, after = _about_mean(value[NEIGHBOURS:])
    run, off = run_before + run_after, off_before + off_after
    spread = sum(x * x for x in run)
    slope = sum(x * y for x, y in zip(run, off, strict=True)) / spread if spread > 1e-18 else 0.0
    apart = at_after - at_before
    height = after - before - slope * apart
    left, known = sum((y - slope * x) ** 2 for x, y in zip(run, off, strict=True)), 3 if spread > 1e-18 else 2
    step = sweep.gauge.resolution_mm
    noise = float((left / (len(run) - known) + step**2 / 12) ** 0.5)
    u = noise * float((2.0 / NEIGHBOURS + (apart**2 / spread if spread > 1e-18 else 0.0)) ** 0.5)
    least = max(signs.jump_near_u * u, signs.jump_steps * step, signs.jump_mm)
    return abs(height) > least


def _about_mean(values: list[float]) -> tuple[list[float], float]:
    """How far each is from their mean, and the mean."""
    mean = sum(values) / len(values)
    return [value - mean for value in values], mean


def _without_dents(sweep: Sweep, jumps: list[Jump], signs: Signs) -> tuple[Jump, ...]:
    """Without pairs of opposite jumps that are the two sides of one dent or bulge.

    One pair alone of steep sides may as well be a knock of the stand, and stays; a surface with more of them
    has edges of its own.
    """
    kept, pairs = list(jumps), []
    i = 0
    while i + 1 < len(kept):
        one, other = kept[i], kept[i + 1]
        apart = abs(float(sweep.angle_deg[other.after] - sweep.angle_deg[one.after]))
        if apart < signs.dent_deg and one.height_mm * other.height_mm < 0:
            pairs.append((one, other))
            del kept[i : i + 2]
        else:
            i += 1
    if len(pairs) == 1 and _may_be_knock(sweep, *pairs[0], signs):
        kept = sorted([*kept, *pairs[0]], key=lambda jump: jump.after)
    return tuple(kept)


def _may_be_knock(sweep: Sweep, one: Jump, other: Jump, signs: Signs) -> bool:
    """Whether both jumps of a pair come from one reading to the next, with readings enough between them that
    the flanks of a dent, which are rounded, would hold some: of the flattest that are fitted, with n readings
    from one steepest place to the other, two of them in a row are at most 4 / n of its height apart."""
    if other.after - one.after < signs.knock_readings:
        return False
    return all(_by_one_reading(sweep, jump) >= signs.knock_share for jump in (one, other))


def _by_one_reading(sweep: Sweep, jump: Jump) -> float:
    """What share of a jump comes from one reading to the next, beside the slope of its neighbours. Its height
    is the mean of what they and what all readings show: a flank that is barred over fast is steep by them."""
    near = sweep.value_mm[jump.after - NEIGHBOURS : jump.after + NEIGHBOURS]
    rise = np.diff(near)
    slope = float(np.median(np.delete(rise, NEIGHBOURS - 1)))
    before, after = np.median(near.reshape(2, -1), axis=1)
    height = 0.5 * (abs(float(after - before) - slope * NEIGHBOURS) + abs(jump.height_mm))
    return abs(float(rise[NEIGHBOURS - 1]) - slope) / height if height > 0 else 0.0


def jump_times(sweep: Sweep, jumps: tuple[Jump, ...]) -> F64:
    """Progress of time half-way between the readings around each jump, shape (j,)."""
    along = progress(sweep)
    return np.array([0.5 * (along[j.after - 1] + along[j.after]) for j in jumps])
