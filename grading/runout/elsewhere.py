"""What stands out on a turn which is not fitted.

From mark to mark one turn of several is fitted, as the same place has another angle on each. A narrow dent
that the crank hurried over there may be met on another turn, by one reading alone or by several.
"""

from __future__ import annotations

import numpy as np

from config.runout import SurfaceRules
from grading.evidence import F64
from grading.signs.lone import find_lone, lone_in_passing
from grading.signs.prepared import Prepared, without
from grading.signs.scatter import scatter_mm

# Turns are looked at from one such step to the next.
TURN_EVERY_DEG = 30.0


def elsewhere_unsure(one: Prepared, tir_mm: F64, rules: SurfaceRules) -> list[str]:
    """What such readings may be, and what to do; empty where there are none, or where with them nothing is
    over. tir_mm: draws of the fitted turn's TIR, shape (m,)."""
    if not one.running:
        return []
    return _lone(one, tir_mm, rules) or _higher_turn(one, tir_mm, rules)


def _reaches(tir_mm: F64, more_mm: float, rules: SurfaceRules) -> bool:
    return float(np.mean(tir_mm + more_mm > rules.limit_mm)) > rules.sweep.signs.reach_share


def _higher_turn(one: Prepared, tir_mm: F64, rules: SurfaceRules) -> list[str]:
    """A turn on which readings went up and down by more than on the fitted one, without spikes and luck."""
    sweep, signs = one.sweep, rules.sweep.signs
    clean = without(sweep, find_lone(sweep, rules.sweep, running=True).spikes)
    angle, value = clean.angle_deg, clean.value_mm
    own = float(np.ptp(one.clean.value_mm))
    starts = np.arange(angle.min(), angle.max() - 360.0 + 1e-6, TURN_EVERY_DEG)
    turns = [(angle >= start) & (angle <= start + 360.0) for start in starts]
    most = max((float(np.ptp(value[turn])) for turn in turns if turn.any()), default=own)
    single = float(np.hypot(scatter_mm(sweep), sweep.gauge.resolution_mm / 12**0.5))
    if not _reaches(tir_mm, max(most - own - signs.seen_luck * single, 0.0), rules) or most <= own:
        return []
    return [
        f"on another turn the readings went up and down by {most:.3f} mm, and by {own:.3f} mm on the turn "
        "which is fitted: the crank may have hurried over a dent there; bar slowly and evenly, and take the "
        "sweep again"
    ]


def _lone(one: Prepared, tir_mm: F64, rules: SurfaceRules) -> list[str]:
    """A single reading beyond all others of the turn around it."""
    sweep = one.sweep
    angle, value = sweep.angle_deg, sweep.value_mm
    fitted = (angle >= one.used.angle_deg.min()) & (angle <= one.used.angle_deg.max())
    lone = lone_in_passing(sweep, rules.sweep)
    most, at = 0.0, -1
    for i in lone[~fitted[lone]]:
        # Beyond all others of the turn around it, so that a level that drifts from turn to turn is none.
        near = np.abs(angle - angle[i]) <= 180.0
        near[lone] = False
        if not near.any():
            continue
        beyond = max(value[i] - value[near].max(), value[near].min() - value[i])
        if beyond > most:
            most, at = float(beyond), int(i)
    if at < 0 or not _reaches(tir_mm, most, rules):
        return []
    return [
        f"on another turn a single reading stands out ({value[at]:.3f} mm at {angle[at] % 360.0:.0f} "
        "degrees): a slip, or a narrow dent that the turn which is fitted passed over; bar slowly over that "
        "place, and take the sweep again"
    ]
