"""Angles that are wrong, asked of one who is told by how much they are wrong as a rule.

What is read at an angle that may be off is the surface on average around it, and scatters by as much as the
surface does there: the oracle is told that too.
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


def _around(one: Told, near: F64, sizes_mm: F64) -> World:
    """The mean of the worlds at each of these angles, shape (m, n)."""
    each = [surface_world(one, at, sizes_mm) for at in near]
    x = np.einsum("m,mnp->np", SHARE, np.stack([world.x for world in each]))
    return World(np.asarray(x, np.float64), each[0].prior_mm, each[0].on_surface)
