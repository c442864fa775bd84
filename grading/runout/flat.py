"""Readings that show their highest or lowest for longer than a surface that goes up and down by as much.

Whether surfaces pass where readings stood is asked of the rest of the turn (grading.signs.still), which says
little once most of a turn is cut off: what is left goes up and down by so little that nothing over fits. Yet
a wave of the height that was read shows its highest for so many degrees alone; an oval rim, which may be flat
on one side, has no edges. From mark to mark edges are where the pace puts them, and prove nothing.
"""

from __future__ import annotations

import numpy as np

from config.runout import SurfaceRules
from config.signs import Signs
from grading.evidence import F64, Sweep
from grading.signs.still import single_noise
from grading.surface.coverage import angles_run_on
from grading.surface.harmonics import columns


def flat_unsure(sweep: Sweep, rules: SurfaceRules) -> list[str]:
    """What it may mean, and what to do; empty where it is not so, or where what is over cannot be cut off."""
    signs = rules.sweep.signs
    for end in (1.0, -1.0):
        share, times = flat_share(sweep, end)
        if times <= signs.flat_most or (not angles_run_on(sweep) and is_two_waves(sweep, signs)):
            continue
        if may_be_mm(float(np.ptp(sweep.value_mm)), share, signs) <= rules.limit_mm:
            continue
        at_mm = end * float(np.max(end * sweep.value_mm))
        return [
            f"the readings show {at_mm:.3f} mm, as high or as low as any, for {360 * share:.0f} degrees in "
            "all, longer than a surface that goes up and down by as much: the plunger may be at the end of "
            "its travel there; set the indicator to the middle of its travel and take the sweep again, with "
            "a finer gauge where it is so again"
        ]
    return []


def flat_share(sweep: Sweep, end: float) -> tuple[float, float]:
    """Which share of the turn shows the highest (end: 1) or the lowest (-1), and how many times as much that
    is as of one wave around which goes up and down by as much (of height h within b of its crest:
    arccos(1 - 2b/h)/pi). The highest step of the display, or the highest two, between which it may flicker:
    whichever stands out."""
    value, step, noise = end * sweep.value_mm, sweep.gauge.resolution_mm, single_noise(sweep)
    height_mm, weight = float(np.ptp(value)), weights(sweep.angle_deg)
    found = 0.0, 0.0
    for steps in (1.0, 2.0):
        within_mm = steps * step + (2.0 * noise if noise > 0.5 * step else 0.0)
        if height_mm <= within_mm:
            continue
        near = weight[value >= value.max() - within_mm + 0.5 * step]
        # So many readings surely reach from the first to the last of them alone.
        share = float(near.sum() - near.max())
        times = share * np.pi / float(np.arccos(1.0 - 2.0 * within_mm / height_mm))
        found = max(found, (share, times), key=lambda each: each[1])
    return found


def is_two_waves(sweep: Sweep, signs: Signs) -> bool:
    """Whether an eccentric rim that is oval, and so may be flat on one side, is all that there is to it, to
    rounding and noise; what is cut off has edges. Of a few steps of the display anything is two waves."""
    if float(np.ptp(sweep.value_mm)) < signs.flat_form_steps * sweep.gauge.resolution_mm:
        return False
    basis = np.column_stack([np.ones(sweep.angle_deg.size), columns(sweep.angle_deg, 2)])
    left = sweep.value_mm - basis @ np.linalg.lstsq(basis, sweep.value_mm)[0]
    freedom = max(left.size - basis.shape[1], 1)
    known_mm = np.hypot(sweep.gauge.resolution_mm / 12**0.5, single_noise(sweep))
    return float(np.sqrt(left @ left / freedom)) <= signs.cut_two_waves * float(known_mm)


def weights(angle_deg: F64) -> F64:
    """Of each reading: the share of the turn that is nearest to it, shape (n,); all of them make 1."""
    turned = np.mod(angle_deg, 360.0)
    order = np.argsort(turned, kind="stable")
    gaps = np.diff(turned[order], append=turned[order[0]] + 360.0)
    found = np.empty(turned.size)
    found[order] = 0.5 * (gaps + np.roll(gaps, 1)) / 360.0
    return found


def may_be_mm(read_mm: float, share: float, signs: Signs) -> float:
    """How high a surface may be of which so much was read: a wave that is cut off over this share of the
    turn, or what a held plunger may hide, whichever is more."""
    wave_mm = 2 * read_mm / max(1.0 + float(np.cos(np.pi * share)), 1e-9)
    return max(read_mm / (1.0 - signs.held_share), wave_mm)
