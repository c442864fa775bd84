"""Tags by an encoder's frames. Pure.

Two positions are a fraction of a degree apart. u_position is the encoder's step/√12; it may move in coarser
steps than its frames can show: what its values differ by tells.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence

import numpy as np

from acquire.angle.between import Known, by_time
from acquire.angle.spell import I64, Spell
from acquire.angle.tags import Tags
from acquire.journal.events import AngleStated, GaugeAway

# Places that an encoder must have shown before its step is taken from them; that so many share a factor
# by chance is unlikely, and errs to the safe side.
MOVES_TO_TELL = 8


def unwrap(values: I64, per_turn: int) -> I64:
    """An encoder's values as one run of whole units, each step taken the shorter way round.

    Starts within [0, per_turn); serves encoders that wrap at a turn and those that count on.
    """
    if values.size == 0:
        return values
    steps = shorter_way(np.diff(values), per_turn)
    return np.concatenate([[0], np.cumsum(steps)]).astype(np.int64) + int(values[0]) % per_turn


def shorter_way(step: I64, per_turn: int) -> I64:
    """Differences of encoder values, reduced to half a turn at most; exactly half counts as backward."""
    half = per_turn // 2
    return (step + half) % per_turn - half


def tags_by_frames(stated: AngleStated, u_time_ns: float, spells: Sequence[Spell]) -> list[Tags]:
    """Between the frames, by time; none across a spell in which the encoder was away."""
    frames = [spell.readings(stated.gauge) for spell in spells]
    counts = _joined(stated, [frame.values for frame in frames])
    per_crank_turn = stated.per_turn * stated.gear
    u_deg = float(360.0 * max(stated.step, _seen_step(counts)) / per_crank_turn / 12**0.5)
    tagged = []
    for spell, frame, count in zip(spells, frames, counts, strict=True):
        angle = count.astype(np.float64) * (360.0 / per_crank_turn)
        known = Known(frame.times, angle, frame.late, _runs(stated.gauge, spell, frame.times))
        tagged.append(by_time(spell.gauge, known, 0, u_deg, u_time_ns))
    return tagged


def _joined(stated: AngleStated, values: Sequence[I64]) -> list[I64]:
    """Unwrapped over all spells: from one to the next the crank is taken to have come the shorter way, as
    nothing was seen of it."""
    before: int | None = None
    joined = []
    for raw in values:
        run = unwrap(raw, stated.per_turn)
        if run.size:
            if before is not None:
                step = shorter_way(np.array([int(run[0]) - before], dtype=np.int64), stated.per_turn)
                run = run - run[0] + before + step[0]
            before = int(run[-1])
        joined.append(-run if stated.reversed else run)
    return joined


def _runs(gauge: str | None, spell: Spell, times: I64) -> list[slice]:
    """The frames between whose ends it was not away."""
    away = [e.time_ns for e in spell.events if isinstance(e, GaugeAway) and e.gauge == gauge]
    breaks = sorted({int(np.searchsorted(times, time, side="left")) for time in away})
    edges = [0, *(b for b in breaks if 0 < b < times.size), times.size]
    return [slice(a, b) for a, b in itertools.pairwise(edges) if b > a]


def _seen_step(runs: Iterable[I64]) -> int:
    """The largest step of which all movements of the encoder are whole numbers; 0 where too few are seen."""
    away = [np.zeros(0, dtype=np.int64), *(np.abs(run - run[0]) for run in runs if run.size)]
    moves = np.unique(np.concatenate(away))[1:]
    return int(np.gcd.reduce(moves)) if moves.size >= MOVES_TO_TELL else 0
