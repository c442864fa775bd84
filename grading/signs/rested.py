"""Whether an arc over which the readings stand still may be a crank that stood there. Pure.

From mark to mark nobody knows when the crank turned, so that a stand alone does not show that it did. Three
things speak for a rest. The angles come of when the readings moved: then how far it turned meanwhile is mere
guess. Or the readings went on from where they stood the way they had come, with no level left out: a plunger
that is held jumps when it comes free, or waits for the surface to come back to it and leaves the other way.
Or the rest of the turn allows that the surface goes no further in the arc than the readings did.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from config.runout import SweepRules
from config.signs import Signs
from grading.evidence import F64, Sweep
from grading.signs.still import Still, single_noise

# Readings at either end of an arc by whose median its level there is told.
AT_ENDS = 5


def may_have_rested(sweep: Sweep, still: Still, rules: SweepRules, *, hides_none: bool) -> bool:
    """Of a sweep from mark to mark: whether a crank that stood may be all there is to this arc. hides_none:
    whether the surface need not go beyond the readings there. Never so where the angles say, what they are
    uncertain by taken off, that it turned by max_still_deg meanwhile, as from one mark to another, or, where
    nothing is hidden, by more than a gap may be."""
    into = np.mod(sweep.angle_deg - still.from_deg, 360.0)
    inside = np.flatnonzero(into <= still.to_deg - still.from_deg)
    around = inside[np.argsort(into[inside], kind="stable")]
    if not around.size:
        return False
    turned = turned_deg(into[around], rules.signs.turned_u * sweep.angle_u_deg[around])
    if hides_none and turned <= rules.max_gap_deg:
        return True
    return turned < rules.max_still_deg and (bool(sweep.angles_run_on) or goes_on(sweep, inside, rules.signs))


def turned_deg(angle_deg: F64, u_deg: F64) -> float:
    """How far the crank turned at the least between any two of these angles, in rising order, each taken for
    off by this much; 0 where it need not have turned."""
    return max(float(np.max(angle_deg - u_deg - np.minimum.accumulate(angle_deg + u_deg))), 0.0)


def goes_on(sweep: Sweep, inside: NDArray[np.intp], signs: Signs) -> bool:
    """Whether readings rise both before and after these, or fall, and no level between is left out."""
    if np.any(np.diff(inside) > 1):
        return False
    value = sweep.value_mm
    next_mm = signs.rest_steps * sweep.gauge.resolution_mm + signs.rest_noise * single_noise(sweep)
    far_mm = signs.rest_further * next_mm
    came = -_leaves(value[: int(inside[0]) + 1][::-1], next_mm, far_mm)
    went = _leaves(value[int(inside[-1]) :], next_mm, far_mm)
    over = float(np.median(value[inside[-AT_ENDS:]]) - np.median(value[inside[:AT_ENDS]]))
    return came * went > 0 and over * went > -next_mm


def _leaves(value: F64, next_mm: float, far_mm: float) -> int:
    """Which way readings leave the first of them, 1 up or -1 down; 0 where they leap, or never do."""
    off = value - value[0]
    far = np.flatnonzero(np.abs(off) > far_mm)
    if not far.size or float(np.max(np.abs(np.diff(value[: far[0] + 1])))) > next_mm:
        return 0
    return 1 if off[far[0]] > 0 else -1
