"""A face that two indicators read at once: what the second one makes of the first one's check."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np

from config.runout import FaceRules, SurfaceRules
from contract.result import LevelStepPart, OppositePart
from grading.evidence import Sweep
from grading.kinds.parts import gauge_warnings
from grading.runout.needle import shown_mm
from grading.runout.runout import Alone
from grading.signs.jumps import Jump
from grading.signs.levels import clock_s
from grading.signs.opposite import ASK, Facing, face_both
from grading.signs.prepared import Prepared
from grading.signs.steps import as_shown
from grading.surface.coverage import angles_run_on


def facing_of(sweep: Sweep, rules: SurfaceRules) -> Facing:
    """What comes of looking at a sweep and its second indicator; of one alone, the sweep as it is."""
    if sweep.opposite is None or not isinstance(rules, FaceRules):
        return Facing(sweep)
    both = replace(sweep, opposite=as_shown(sweep.opposite, rules.sweep.coarser))
    return face_both(both, rules.sweep, rules.end_float)


def float_faults(one: Prepared, second: Prepared | None, facing: Facing, rules: SurfaceRules) -> list[str]:
    """A face whose level moved, and nobody proves whose it is: by more than may be; beside a second indicator
    that moved meanwhile and yet proves no float; or beside one that does not count. second: what that one
    read, where it counts. Not from mark to mark, where a steep place that the crank hurried over looks the
    same: both readings of it are held there."""
    if not isinstance(rules, FaceRules) or not one.jumps or angles_run_on(one.clean):
        return []
    if facing.doubt is not None:
        return [f"{_most_said(one)}, and {facing.doubt}"]
    if second is not None and _at_once(one, second, rules.end_float.same_s):
        return [f"{_most_said(one)}, and the second indicator moved with it but not alike; {ASK}"]
    levels = np.cumsum([0.0, *(jump.height_mm for jump in one.jumps)])
    moved = float(np.ptp(levels))
    if (second is not None and not facing.unproven) or moved <= rules.end_float.max_mm:
        return []
    return [
        f"the level moved by {moved:.3f} mm, most of it at {_most_deg(one):.0f} degrees, at most "
        f"{rules.end_float.max_mm:g} mm may be: the crankshaft slid along its axis, or the base was knocked; "
        "hold the crankshaft to one end of its float, fasten the base, and take the sweep again"
    ]


def _at_once(one: Prepared, second: Prepared, same_s: float) -> bool:
    """Whether the level of both jumped at one time."""
    mine, theirs = clock_s(one.clean), clock_s(second.clean)
    return any(abs(float(mine[a.after] - theirs[b.after])) <= same_s for a in one.jumps for b in second.jumps)


def _most(one: Prepared) -> Jump:
    return max(one.jumps, key=lambda jump: abs(jump.height_mm))


def _most_deg(one: Prepared) -> float:
    return float(one.clean.angle_deg[_most(one).after]) % 360.0


def _most_said(one: Prepared) -> str:
    return f"the level jumped by {_most(one).height_mm:+.3f} mm at {_most_deg(one):.0f} degrees"


def steps_of(one: Alone, facing: Facing) -> tuple[LevelStepPart, ...] | None:
    """Where the level jumped, and by how much: first what both indicators prove to be end float."""
    sweep = one.prepared.clean
    found = [
        LevelStepPart(angle_deg=step.angle_deg % 360.0, height_mm=step.height_mm, is_float=True)
        for step in facing.taken_off
    ]
    found += [
        LevelStepPart(angle_deg=float(sweep.angle_deg[jump.after]) % 360.0, height_mm=jump.height_mm)
        for jump in one.prepared.jumps
    ]
    return tuple(found) or None


def step_warnings(one: Alone) -> list[str]:
    """Each jump that nobody explains, by place and size."""
    sweep = one.prepared.clean
    return [
        f"the level jumped by {jump.height_mm:+.3f} mm at "
        f"{float(sweep.angle_deg[jump.after]) % 360.0:.0f} degrees"
        for jump in one.prepared.jumps
    ]


def opposite_part(came: Sweep, facing: Facing) -> OppositePart | None:
    """What the result says of the second indicator of a sweep."""
    second = came.opposite
    if second is None:
        return None
    tilt = None if facing.tilt is None else float(np.hypot(*facing.tilt))
    levels = np.cumsum([0.0, *(step.height_mm for step in facing.taken_off)])
    return OppositePart(
        gauge=second.gauge,
        counts=facing.other is not None,
        tir_mm=shown_mm(second) if second.value_mm.size and np.isfinite(second.value_mm).all() else None,
        half_difference_mm=tilt,
        half_sum_mm=facing.apart_mm,
        float_mm=float(np.ptp(levels)) if facing.taken_off else None,
    )


def both_warnings(came: Sweep, on: date | None) -> list[str]:
    """What is wrong with the papers of the gauge, and of the second one."""
    found = gauge_warnings(came.gauge, on)
    return found if came.opposite is None else [*found, *gauge_warnings(came.opposite.gauge, on)]


def tilt_mrad(facing: Facing, radius_mm: float | None) -> float | None:
    """The face's tilt by half the difference of both indicators, which no float moves."""
    if facing.tilt is None or not radius_mm:
        return None
    return float(np.arctan(np.hypot(*facing.tilt) / radius_mm)) * 1000
