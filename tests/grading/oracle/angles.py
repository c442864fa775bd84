"""Angles that are not known, asked of one who is told by how much they are wrong as a rule.

What is read at an angle that may be off is the surface on average around it, and scatters by as much as the
surface does there; where angles run on between marks, they are off by a path that begins and ends at marks,
and what is read is off by as much as the surface slopes. The oracle is told how it slopes.
"""

from __future__ import annotations

import numpy as np

from grading.evidence import F64
from tests.grading.adverse.day import LIMIT_MM
from tests.grading.oracle.sound import Sound
from tests.grading.oracle.told import Told
from tests.grading.oracle.world import World, families, know, surface_world

# Places around an angle, in standard deviations, and their weights (Gauss and Hermite's rule).
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(9)
AROUND: F64 = np.asarray(_NODES, np.float64)
SHARE: F64 = np.asarray(_WEIGHTS / _WEIGHTS.sum(), np.float64)

# A mark's angle is known to this, there are so many in a turn, and a path between two of them is made of so
# many half waves; half of what a slope is taken over, in degrees.
MARK_U_DEG, PER_TURN, WAVES, STEP_DEG = 0.5, (3, 4, 6, 8), 6, 0.1


def blurred(one: Told) -> Sound:
    """All that readings at such angles leave possible."""
    told_deg = one.sweep.angle_deg
    u_deg = float(np.std(told_deg - one.path_deg))
    near = told_deg + u_deg * AROUND[:, None]
    heights = np.stack([one.form(at) for at in near])
    scatter = np.sqrt(np.maximum(SHARE @ heights**2 - (SHARE @ heights) ** 2, 0.0))
    noise = np.hypot(one.day.noise_mm, scatter)
    scale = float(np.ptp(one.sweep.value_mm)) / LIMIT_MM
    worlds = tuple(_around(one, near, scale * sizes) for sizes in families())
    known = tuple(know(world, one.sweep.value_mm, one.step_mm, noise) for world in worlds)
    return Sound(worlds, known)


def between_marks(one: Told) -> Sound:
    """All that readings leave possible whose angles are known at marks, and between them to what a pace may
    do: a walk that is pinned at both marks (Karhunen-Loeve's series of it, cut off), and a hand at each."""
    told_deg, true_deg = one.sweep.angle_deg, one.path_deg
    slope = (one.form(true_deg + STEP_DEG) - one.form(true_deg - STEP_DEG)) / (2 * STEP_DEG)
    widest = float(np.max(one.sweep.angle_u_deg) ** 2) - MARK_U_DEG**2
    marks = min(PER_TURN, key=lambda count: abs((360 / count) ** 2 / 12 - widest))
    spacing = 360 / marks
    share, number = np.mod(told_deg, spacing) / spacing, np.floor(told_deg / spacing)
    off = []
    for i in range(marks):
        here = number == i
        off += [
            here * spacing / 3**0.5 * 2**0.5 / (np.pi * k) * np.sin(np.pi * k * share)
            for k in range(1, WAVES + 1)
        ]
        off.append(MARK_U_DEG * np.maximum(1 - np.abs(told_deg / spacing - (i + 1)), 0.0))
    columns = slope[:, None] * np.stack(off, axis=1)
    scale = float(np.ptp(one.sweep.value_mm)) / LIMIT_MM
    worlds = tuple(
        surface_world(one, true_deg, scale * sizes).beside(columns, np.ones(columns.shape[1]))
        for sizes in families()
    )
    # Linear about the truth: what stands there is the true angles less what they may be off by.
    value = one.sweep.value_mm + slope * (true_deg - told_deg)
    known = tuple(know(world, value, one.step_mm, one.day.noise_mm) for world in worlds)
    return Sound(worlds, known)


def _around(one: Told, near: F64, sizes_mm: F64) -> World:
    """The mean of the worlds at each of these angles, shape (m, n)."""
    each = [surface_world(one, at, sizes_mm) for at in near]
    x = np.einsum("m,mnp->np", SHARE, np.stack([world.x for world in each]))
    return World(np.asarray(x, np.float64), each[0].prior_mm, each[0].on_surface)
