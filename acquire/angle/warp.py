"""Between known positions the crank turned when the gauge's readings moved. Pure.

Each moving block is worth its length at the turn's own pace; a stretch that stands is worth no more than
what the surface lets pass unseen at its height, which about a crest is much. So they add up to a way W, of
variance V, and between two marks D degrees apart that is stretched to D:

    angle = D·w/W        u² = V_before·V_after/(V_before + V_after)·spread²

(a walk of independent steps that is pinned at both ends). Nothing is known of the surface but what its
readings span, so no form of it bends the angles much, and what is found of it later is not what was put in.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.angle.moves import Blocks, runs_of
from acquire.angle.spell import I64
from grading.evidence import F64

# Degrees a second that a hand bars at.
PACE_LEAST, PACE_MOST = 8.0, 60.0
# Variance of what a hand turns in a time, in square degrees for each degree: strokes and the ratchet's play
# (1.2 of its own accord; the rest is what is mistaken for moving or standing).
HAND_DEG = 2.2
# How much of what may pass unseen does, of a stretch that stands, and its standard uncertainty; in either, a
# stretch is worth no more than this share of its time at the turn's pace.
UNSEEN, UNSEEN_U, TURNING = 0.35, 0.42, 0.7
# No reading is less known than if nothing were known of it but the marks beside it (rectangular,
# JCGM 100:2008, 4.3.7), and some more, as it then lies more often near one of them than midway.
NOTHING_KNOWN = 2.0 / 12
# What the walk gives is held to simulated turns (`python -m tests.benchmarks.angle_marks`), by how large a
# step of the display is beside half of what the readings span: where that is between fine and coarse more is
# mistaken, and a blind gauge says the least.
BLIND_SHARE, SPREAD = (0.003, 0.007, 0.013, 0.037, 0.066, 0.13, 0.38), (1.3, 1.15, 1.5, 1.25, 1.1, 1.2, 1.8)


@dataclass(frozen=True, slots=True)
class Way:
    """Shape (b + 1,), at the edges of blocks: degrees come by, and their variance."""

    deg: F64
    variance: F64


def way_of(blocks: Blocks, total_deg: float, cuts: I64) -> Way:
    """Of blocks over total_deg; cuts: blocks at which a mark lies, so that no rest goes on over it."""
    lasts, begins = blocks.lasts_s, runs_of(blocks.moves, cuts)
    run = np.searchsorted(begins, np.arange(lasts.size), side="right") - 1
    run_s = np.maximum(np.bincount(run, lasts), 1e-9)
    height = np.clip(np.bincount(run, blocks.height * lasts) / run_s, -1.0, 1.0)
    unseen = np.where(blocks.moves[begins], 0.0, blocks.wide_deg(height, 2 * 0.7 * blocks.band_mm))
    moved_s, pace = max(float(lasts @ blocks.moves), 0.3), 20.0
    for _ in range(6):
        passed = np.minimum(UNSEEN * unseen, TURNING * pace * run_s)
        pace = float(np.clip((total_deg - passed.sum()) / moved_s, PACE_LEAST, PACE_MOST))
    passed, passed_u = (np.minimum(s * unseen, TURNING * pace * run_s) for s in (UNSEEN, UNSEEN_U))
    deg = np.where(blocks.moves, pace, (passed / run_s)[run]) * lasts
    variance = np.where(blocks.moves, HAND_DEG * pace, (passed_u**2 / run_s)[run]) * lasts
    return Way(*(np.concatenate([[0.0], np.cumsum(each)]) for each in (deg, variance)))


def between_marks(at_s: F64, blocks: Blocks, way: Way, mark_s: F64, mark_deg: F64) -> tuple[F64, F64]:
    """Angles at these times and their u, beside that of the marks; marks in rising order."""
    w, v = np.interp(at_s, blocks.edge_s, way.deg), np.interp(at_s, blocks.edge_s, way.variance)
    mark_w = np.interp(mark_s, blocks.edge_s, way.deg)
    mark_v = np.interp(mark_s, blocks.edge_s, way.variance)
    right = np.clip(np.searchsorted(mark_s, at_s, side="right"), 1, mark_s.size - 1)
    left, step = right - 1, mark_deg[right] - mark_deg[right - 1]
    share = (w - mark_w[left]) / np.maximum(mark_w[right] - mark_w[left], 1e-9)
    before, after = v - mark_v[left], mark_v[right] - v
    blind = blocks.step_mm / blocks.half_mm
    spread = float(np.interp(np.log(blind), np.log(BLIND_SHARE), SPREAD))
    u2 = spread**2 * before * after / np.maximum(before + after, 1e-9)
    return mark_deg[left] + step * np.clip(share, 0.0, 1.0), np.sqrt(
        np.minimum(np.maximum(u2, 0.0), NOTHING_KNOWN * step**2)
    )
