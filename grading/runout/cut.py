"""A plain dial at the end of its travel over a long arc: the stops there show one value, and few are left.

Whether surfaces pass where readings stood is asked of all readings elsewhere (grading.signs.still); of a few
stops, half of which stand, too many pass. But where one wave takes up all the others to a dial's noise, and
goes on well beyond what the standing ones show, the plunger was held, or had left the surface.
"""

from __future__ import annotations

import numpy as np

from config.runout import SurfaceRules
from grading.evidence import F64, Sweep
from grading.runout.unsigned import thinned
from grading.signs.faults import still_said
from grading.signs.still import Still


def cut_faults(sweep: Sweep, rules: SurfaceRules) -> list[str]:
    """Why such a sweep is not graded: what was cut off may be over."""
    angle, value = thinned(sweep)
    for end in (1.0, -1.0):
        found = _cut(angle, end * value, sweep, rules)
        if found is not None:
            low, high = found
            at_mm = float(end * np.min(end * value))
            return [still_said(Still(low, high, at_mm, at_end=True, proven=True))]
    return []


def _cut(angle: F64, value: F64, sweep: Sweep, rules: SurfaceRules) -> tuple[float, float] | None:
    """From where to where the lowest stand, were it cut off below; None where nothing speaks for it."""
    step, signs = sweep.gauge.resolution_mm, rules.sweep.signs
    stands = value <= value.min() + 1.01 * step
    if stands.sum() < signs.cut_min or not signs.cut_rest_min <= (~stands).sum() <= signs.cut_rest_most:
        return None
    turned = np.deg2rad(angle)
    waves = np.column_stack([np.ones(angle.size), np.cos(turned), np.sin(turned)])
    fitted, *_ = np.linalg.lstsq(waves[~stands], value[~stands], rcond=None)
    left = value - waves @ fitted
    scatter_mm = float(np.sqrt(np.sum(left[~stands] ** 2) / ((~stands).sum() - 3)))
    if scatter_mm > np.hypot(rules.sweep.max_noise_mm, step):
        return None
    # A sound rim that is flat on one side is two waves all around, to rounding (JCGM 100:2008, F.2.2.1).
    two = np.column_stack([waves, np.cos(2 * turned), np.sin(2 * turned)])
    over_mm = float(np.sqrt(np.sum((value - two @ np.linalg.lstsq(two, value)[0]) ** 2) / (value.size - 5)))
    if over_mm <= max(scatter_mm, signs.cut_two_waves * step / 12**0.5):
        return None
    beyond_mm = signs.cut_beyond * (step + scatter_mm)
    around = np.linspace(0.0, 2 * np.pi, 360, endpoint=False)
    wave = fitted[0] + fitted[1] * np.cos(around) + fitted[2] * np.sin(around)
    if value.min() - wave.min() <= beyond_mm or (left[stands] < -beyond_mm / 2).any():
        return None
    if np.ptp(wave) + sweep.gauge.mpe_mm + beyond_mm <= rules.limit_mm:
        return None
    middle = np.rad2deg(around[int(np.argmin(wave))])
    off = np.mod(angle[stands] - middle + 180.0, 360.0) - 180.0
    way = 1.0 if sweep.angle_deg[-1] >= sweep.angle_deg[0] else -1.0
    ends = sweep.angle_deg[0] + way * (middle + np.array([off.min(), off.max()]))
    return float(ends.min()), float(ends.max())
