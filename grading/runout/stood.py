"""Readings that stood still at their highest or lowest while the crank was taken to stand."""

from __future__ import annotations

import numpy as np

from config.runout import SurfaceRules
from grading.evidence import Sweep


def stood_unsure(sweep: Sweep, rules: SurfaceRules) -> list[str]:
    """What it may mean, and what to do; empty where a plunger that was held cannot hide what is over."""
    if sweep.stood_mm is None:
        return []
    may_be_mm = float(np.ptp(sweep.value_mm)) / (1.0 - rules.sweep.signs.held_share)
    if may_be_mm <= rules.limit_mm:
        return []
    return [
        f"the readings stood still at {sweep.stood_mm:.3f} mm, as high or as low as any: the crank stood "
        "there, or the plunger was held or at the end of its travel; see that it has travel left, then take "
        "the sweep again and bar past the highest and the lowest place without a stop, or use an encoder"
    ]
