"""Between known positions the crank turned when the gauge's readings moved. Pure.

Each moving block is worth its length at the turn's own pace; a stretch that stands is worth no more than
what the surface lets pass unseen at its height, which about a crest is much. So they add up to a way W, of
variance V, and between two marks D degrees apart that is stretched to D:

    angle = D·w/W        u² = V_before·V_after/(V_before + V_after)·spread² + U²·untold

(a walk of independent steps that is pinned at both ends). U is by how much W falls short of D, or goes
beyond it, more than √V allows: so many degrees were turned unseen, or stood through, and nobody knows when.
A surface of many waves does that, which is flat where an eccentric is steep.

Nothing is known of the surface but what its readings span, so no form of it bends the angles much, and what
is found of it later is not what was put in.
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
# From how many standard deviations on W and D differ by more than chance, and the variance of where what
# differs belongs, as a share of its square.
UNTOLD_FROM, UNTOLD = 1.5, 0.2
# What the walk gives is held to simulated turns (`python -m tests.benchmarks.angle_marks`) with marks so far
# apart, by how large a step of the display is beside half of what the readings span: where that is between
# fine and coarse more is mistaken, and a blind gauge says the least.
APART_DEG = (30.0, 120.0)
BLIND_SHARE = (0.003, 0.007, 0.013, 0.037, 0.066, 0.13, 0.38)
SPREAD = (1.12, 1.08, 1.22, 0.97, 0.9, 1.0, 1.5), (1.17, 1.4, 1.45, 1.17, 1.2, 1.16, 1.2)
# No reading is less known than if nothing were known of it but the marks beside it: the variance is then this
# share of their distance squared, for marks as far apart; 1/12 were rectangular (JCGM 100:2008, 4.3.7), and
# it lies more often near one of them than midway.
NOTHING_KNOWN = (2.25 / 12, 1.7 / 12)


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
    """Angles at these times, in rising order as the marks are, and their u, beside that of the marks."""
    mark_w = np.interp(mark_s, blocks.edge_s, way.deg)
    mark_v = np.interp(mark_s, blocks.edge_s, way.variance)
    step, whole, total = np.diff(mark_deg), np.diff(mark_w), np.diff(mark_v)
    unseen = np.maximum(np.abs(step - whole) - UNTOLD_FROM * np.sqrt(total), 0.0)
    blind = np.log(blocks.step_mm / blocks.half_mm)
    near, far = (float(np.interp(blind, np.log(BLIND_SHARE), each)) for each in SPREAD)
    spread2 = _by_distance(step, (near, far)) ** 2 / np.maximum(total, 1e-9)
    # Between two marks all of these are the same; the first and the last go on beyond.
    ends = np.searchsorted(at_s, mark_s[1:-1])
    gap = np.repeat(np.arange(step.size), np.diff(np.concatenate([[0], ends, [at_s.size]])))
    w, before = np.interp(at_s, blocks.edge_s, way.deg), np.interp(at_s, blocks.edge_s, way.variance)
    before -= mark_v[gap]
    share = np.clip((w - mark_w[gap]) / np.maximum(whole, 1e-9)[gap], 0.0, 1.0)
    u2 = spread2[gap] * before * (total[gap] - before) + (UNTOLD * unseen**2)[gap]
    u2 = np.minimum(np.maximum(u2, 0.0), (anywhere_u_deg(step) ** 2)[gap])
    return mark_deg[gap] + step[gap] * share, np.sqrt(u2)


def anywhere_u_deg(step_deg: F64) -> F64:
    """Standard uncertainty of an angle between two marks so far apart, of which nothing else is known."""
    return np.asarray(np.sqrt(_by_distance(step_deg, NOTHING_KNOWN)) * np.abs(step_deg))


def _by_distance(step_deg: F64, at: tuple[float, float]) -> F64:
    """What was found for marks as far apart as APART_DEG, for others."""
    return np.asarray(np.interp(np.log(np.maximum(np.abs(step_deg), 1e-9)), np.log(APART_DEG), at))
