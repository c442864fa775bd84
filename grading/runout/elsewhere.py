"""Single readings that stand out on a turn which is not fitted.

From mark to mark one turn of several is fitted, as the same place has another angle on each. A narrow dent
that the crank hurried over there may be met on another turn by one reading alone.
"""

from __future__ import annotations

import numpy as np

from config.runout import SurfaceRules
from grading.evidence import F64
from grading.signs.lone import lone_in_passing
from grading.signs.prepared import Prepared


def elsewhere_unsure(one: Prepared, tir_mm: F64, rules: SurfaceRules) -> list[str]:
    """What such a reading may be, and what to do; empty where none is, or where with it nothing is over.
    tir_mm: draws of the fitted turn's TIR, shape (m,)."""
    if not one.running:
        return []
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
    if float(np.mean(tir_mm + most > rules.limit_mm)) <= rules.sweep.signs.reach_share or at < 0:
        return []
    return [
        f"on another turn a single reading stands out ({value[at]:.3f} mm at {angle[at] % 360.0:.0f} "
        "degrees): a slip, or a narrow dent that the turn which is fitted passed over; bar slowly over that "
        "place, and take the sweep again"
    ]
