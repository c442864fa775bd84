"""Tags by marks that were pressed. Pure.

A crank that is barred in strokes, with rests, turned when the gauge's readings moved (`warp`). Where the
readings move nearly all the time or hardly at all, where marks are told to and fro, or too few readings lie
between two of them, time alone tells (`between`).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from acquire.angle.between import Known, by_time, late_deg
from acquire.angle.covered import MARK_REACH_NS
from acquire.angle.moves import Blocks, blocks_of, runs_of
from acquire.angle.spell import I64, Readings, Spell
from acquire.angle.stood import stood_mm
from acquire.angle.tags import Tags
from acquire.angle.warp import anywhere_u_deg, between_marks, way_of
from acquire.journal.events import Mark
from contract.units import UDEG_PER_DEG
from grading.evidence import F64

# Readings between two marks below which there is nothing to go by.
READINGS_MIN = 6
# Share of the time in which nothing moves, below which time alone tells well enough and shows a held plunger.
RESTS_SHARE = 0.5
# So many rests of so many seconds and more are strokes, where one by itself is a plunger that is held. None
# counts that is higher or lower than this share of what the readings span: there the surface is flat.
RESTS_MANY, REST_S, MIDWAY = 4, 1.0, 0.8
# Between marks where nothing moves for so many seconds the crank turned unseen. What stands still over more
# degrees is a plunger that is held, which time alone shows (`grading.signs.still`); nor may marks lie further
# apart than this.
MOVED_S, UNMOVED_DEG, APART_DEG = 0.6, 100.0, 121.0


def presses_of(spell: Spell) -> Known:
    """The marks of a spell, in order of time."""
    marks = sorted((e.time_ns, e.seq, e.angle_udeg) for e in spell.events if isinstance(e, Mark))
    table = np.array(marks, dtype=np.int64).reshape(-1, 3)
    runs = [slice(0, len(marks))] if marks else []
    return Known(table[:, 0], table[:, 2] / UDEG_PER_DEG, np.zeros_like(table[:, 0]), runs)


def tags_by_presses(u_deg: float, u_time_ns: float, step_nm: int, spell: Spell) -> Tags:
    """Between the marks as the readings moved; within reach of the first and the last by time."""
    return tags_between(presses_of(spell), u_deg, u_time_ns, step_nm, spell)


def tags_between(known: Known, u_deg: float, u_time_ns: float, step_nm: int, spell: Spell) -> Tags:
    """The same from these positions, wherever they come from."""
    gauge = spell.gauge
    here = _within(gauge.times, known)
    if here is None:
        return by_time(gauge, known, MARK_REACH_NS, u_deg, u_time_ns)
    times = gauge.times[here]
    blocks = blocks_of(times, gauge.values[here], step_nm)
    lasts, sense = blocks.lasts_s, 1.0 if known.angle_deg[-1] > known.angle_deg[0] else -1.0
    mark_s, mark_deg = (known.times - times[0]) / 1e9, sense * known.angle_deg
    moved_s = np.diff(np.interp(mark_s, blocks.edge_s, np.append(0.0, np.cumsum(lasts * blocks.moves))))
    if _unmoved_deg(moved_s < MOVED_S, np.diff(mark_deg)) >= UNMOVED_DEG:
        tags = by_time(gauge, known, MARK_REACH_NS, u_deg, u_time_ns)
        # It rested, and where cannot be seen: between two marks it may have been anywhere.
        right = np.clip(np.searchsorted(known.times, times, side="right"), 1, mark_deg.size - 1)
        anywhere = anywhere_u_deg(mark_deg[right] - mark_deg[right - 1])
        tags.u_deg[here] = np.maximum(tags.u_deg[here], anywhere)
        return replace(tags, stood_mm=stood_mm(blocks), runs_on=True)
    if moved_s.sum() > (1 - RESTS_SHARE) * float(lasts.sum()):
        tags = by_time(gauge, known, MARK_REACH_NS, u_deg, u_time_ns)
        if _rests(blocks) < RESTS_MANY:
            return tags
        return replace(tags, stood_mm=stood_mm(blocks), runs_on=True)
    # Degrees from the first mark, so that the same way from another origin is the same to the last bit.
    way_deg = np.round(mark_deg - mark_deg[0], 6)
    way = way_of(blocks, float(way_deg[-1]), np.searchsorted(blocks.edge_s, mark_s[1:-1]))
    at_s = (times - times[0]) / 1e9
    angle, walk_u = between_marks(at_s, blocks, way, mark_s, way_deg)
    rate = np.abs(np.interp(at_s, blocks.edge_s[1:], np.diff(way.deg) / np.maximum(lasts, 1e-9)))
    tags = _beside(here, gauge, known, u_deg, u_time_ns)
    tags.angle_deg[here], tags.known[here] = sense * (angle + mark_deg[0]), True
    tags.u_deg[here] = np.sqrt(u_deg**2 + walk_u**2 + (rate * u_time_ns / 1e9) ** 2)
    late = gauge.late[here]
    if late.any():
        d_late = late_deg(times, late, times, angle, np.zeros_like(times))
        tags.u_deg[here] = np.sqrt(tags.u_deg[here] ** 2 + d_late**2 / 12)
    return Tags(tags.known, tags.angle_deg, tags.u_deg, stood_mm=stood_mm(blocks), runs_on=True)


def _rests(blocks: Blocks) -> int:
    """How often the readings stood midway."""
    begins = runs_of(blocks.moves)
    lasts_s = np.add.reduceat(blocks.lasts_s, begins)
    high = np.abs(np.add.reduceat(blocks.height * blocks.lasts_s, begins)) / np.maximum(lasts_s, 1e-9)
    return int(np.sum(~blocks.moves[begins] & (lasts_s >= REST_S) & (high < MIDWAY)))


def _beside(here: slice, gauge: Readings, known: Known, u_deg: float, u_time_ns: float) -> Tags:
    """The readings before and after, which are within reach of the first and the last mark."""
    tags = Tags.none(gauge.times.size)
    for side in (slice(0, here.start), slice(here.stop, gauge.times.size)):
        part = replace(gauge, times=gauge.times[side], values=gauge.values[side], late=gauge.late[side])
        found = by_time(part, known, MARK_REACH_NS, u_deg, u_time_ns)
        tags.known[side], tags.angle_deg[side], tags.u_deg[side] = found.known, found.angle_deg, found.u_deg
    return tags


def _within(times: I64, known: Known) -> slice | None:
    """The readings from the first mark to the last; None where those marks or readings cannot be gone by."""
    step = np.diff(known.angle_deg)
    if step.size == 0 or (step * step[0] <= 0).any() or np.abs(step).max() > APART_DEG:
        return None
    at = np.searchsorted(times, known.times)
    if np.diff(at).min() < READINGS_MIN:
        return None
    return slice(int(at[0]), int(np.searchsorted(times, known.times[-1], side="right")))


def _unmoved_deg(still: NDArray[np.bool_], step_deg: F64) -> float:
    """The widest way over successive marks without a movement between; a quarter of a turn counts as more
    where it lies between two marks alone."""
    widest = so_far = 0.0
    for is_still, step in zip(still.tolist(), step_deg.tolist(), strict=True):
        so_far = so_far + step if is_still else 0.0
        widest = max(widest, so_far, UNMOVED_DEG if is_still and step >= 90.0 else 0.0)
    return widest
