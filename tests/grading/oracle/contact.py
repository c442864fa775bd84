"""Whether an arc that stands still was held, asked of one who is told all of the day but that.

By Neyman and Pearson's lemma no test of the readings is sharper than the ratio of their chances in both
worlds. What an arc shows that was held is certain; what a surface would have shown there, given all readings
outside it, is the ratio of two evidences.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from grading.evidence import F64
from tests.grading.oracle.sound import Sound, mean_of
from tests.grading.oracle.told import Told
from tests.grading.oracle.world import World, know

# Runs of equal readings looked into: from so many degrees and readings on, the longest first.
RUN_DEG, RUN_READINGS, RUNS = 15.0, 4, 3
# The log ratio where nothing stands still.
NOTHING = -10.0
# Where in the display's step the end of travel may lie, as shares of it.
STOPS = (-0.35, 0.0, 0.35)


def held(one: Told, followed: Sound) -> float:
    """Log ratio for a plunger that stuck: over the arc its readings say nothing of the surface."""
    found = [NOTHING]
    for arc in _runs(one.path_deg, one.sweep.value_mm):
        at = []
        for world, near in zip(followed.worlds, followed.known, strict=True):
            rest = World(world.x[~arc], world.prior_mm, world.on_surface)
            value = one.sweep.value_mm[~arc]
            at.append(know(rest, value, one.step_mm, one.day.noise_mm, near=near).log_evidence)
        found.append(mean_of(at) - followed.log_evidence)
    return max(found)


def stopped(one: Told, followed: Sound) -> float:
    """Log ratio for an end of travel: over the arc the surface, noise and all, is beyond it."""
    value, step, noise = one.sweep.value_mm, one.step_mm, one.day.noise_mm
    found = [NOTHING]
    for end, beyond in ((value.max(), 1.0), (value.min(), -1.0)):
        arc = np.abs(value - end) < 1e-9
        if arc.sum() < RUN_READINGS:
            continue
        at = [
            know(world, value + share * step * arc, step, noise, beyond * arc, near).log_evidence
            for world, near in zip(followed.worlds, followed.known, strict=True)
            for share in STOPS
        ]
        found.append(mean_of(at) - followed.log_evidence)
    return max(found)


def _runs(path_deg: F64, value_mm: F64) -> list[NDArray[np.bool_]]:
    """The longest stretches of one value."""
    ends = np.flatnonzero(np.abs(np.diff(value_mm)) > 1e-9)
    first, last = np.append(0, ends + 1), np.append(ends, value_mm.size - 1)
    span = np.where(last - first + 1 >= RUN_READINGS, np.abs(path_deg[last] - path_deg[first]), 0.0)
    number = np.arange(value_mm.size)
    longest = [i for i in np.argsort(-span)[:RUNS] if span[i] >= RUN_DEG]
    return [(number >= first[i]) & (number <= last[i]) for i in longest]
