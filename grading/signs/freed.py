"""A plunger that stuck and came free: an arc that stands still, and a jump of the level where it ends."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from config.signs import Signs
from grading.evidence import Sweep
from grading.signs.jumps import Jump
from grading.signs.still import Still, is_flat, single_noise


def came_free(sweep: Sweep, still: Still, jumps: tuple[Jump, ...], signs: Signs) -> Still | None:
    """The arc as far as the jump of the level at which it ends, in the way in which it was barred; None where
    none does. A surface that is flat so far and ends in an edge is rare; so is a knock at just that place.

    Readings that stand scatter, so that an arc within a narrow band may end before: those between it and the
    jump must stand as flat as it does.
    """
    inside = np.mod(sweep.angle_deg - still.from_deg, 360.0) <= still.to_deg - still.from_deg
    step, noise = sweep.gauge.resolution_mm, single_noise(sweep)
    band = 1.02 * step + signs.still_wide * noise
    for jump in jumps:
        before = np.flatnonzero(inside[: jump.after])
        # The place of a jump may be off by a reading or two.
        if not before.size or inside[jump.after + 2 : jump.after + 4].any():
            continue
        last = int(before[-1])
        outside = np.flatnonzero(~inside[:last])
        first = int(outside[-1]) + 1 if outside.size else 0
        stood = sweep.value_mm[first : jump.after - 2]
        near = jump.after - 1 - last <= 2 or (
            float(np.max(np.abs(stood - np.median(stood)))) <= 0.5 * band
            and is_flat(stood, step, noise, signs)
        )
        if near:
            ends = sweep.angle_deg[[first, jump.after - 1]]
            return replace(still, from_deg=float(ends.min()), to_deg=float(ends.max()))
    return None
