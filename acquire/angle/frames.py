"""Tags by an encoder's frames. Pure.

Its values become one run of whole steps (here), re-anchored where its index comes (`index`), and the crank
between them is found from where they change (`crossings`). A step is what its frames can show; it may move
in coarser ones: what its values differ by tells.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from acquire.angle.between import late_deg
from acquire.angle.crossings import COVERED, Knots, along, knots_of
from acquire.angle.delay import delay_of
from acquire.angle.index import Anchor, Anchored
from acquire.angle.spell import I64, Readings, Spell
from acquire.angle.tags import Tags
from acquire.journal.events import AngleStated, GaugeAway, IndexPassed
from contract.units import NM_PER_MM
from grading.evidence import F64, AngleSlip, Delay

# Places that an encoder must have shown before its step is taken from them; that so many share a factor
# by chance is unlikely, and errs to the safe side.
MOVES_TO_TELL = 8


def unwrap(values: I64, wraps_at: int) -> I64:
    """An encoder's values as one run of whole units, each step taken the shorter way round.

    Starts within [0, wraps_at); serves encoders that wrap there, at a turn or where their counter is full,
    and those that count on.
    """
    if values.size == 0:
        return values
    steps = shorter_way(np.diff(values), wraps_at)
    return np.concatenate([[0], np.cumsum(steps)]).astype(np.int64) + int(values[0]) % wraps_at


def shorter_way(step: I64, wraps_at: int) -> I64:
    """Differences of encoder values, reduced to half a turn at most; exactly half counts as backward."""
    half = wraps_at // 2
    return (step + half) % wraps_at - half


@dataclass(frozen=True, slots=True)
class Watched:
    """Frames between which the encoder was never away: their times, how late each was read, what they show
    (anchored), and the crank's way through them, None where there is one only. here: which of the gauge's
    readings are of between."""

    times: I64
    late: I64
    found: Anchored
    way: Knots | None
    here: NDArray[np.bool_]


def tags_by_frames(stated: AngleStated, u_time_ns: float, spells: Sequence[Spell]) -> list[Tags]:
    """Between the frames; none across a spell in which the encoder was away.

    Where the readings tell how much later they come than stated better than what is stated, they are tagged
    so.
    """
    frames = [spell.readings(stated.gauge) for spell in spells]
    counts = _joined(stated.wraps_at, [frame.values for frame in frames])
    step = max(stated.step, _seen_step(counts))
    deg = (-360.0 if stated.reversed else 360.0) * step / (stated.per_turn * stated.gear)
    zero = 0 if stated.zero is None else stated.zero + next((int(run[0]) for run in counts if run.size), 0)
    anchor = Anchor(stated.per_turn / step)
    watched = [
        [
            _watched(spell, frame, run, anchor.anchored((count[run] - zero) / step, indices))
            for run in _runs(stated.gauge, spell, frame.times)
            for indices in [_indices(stated.gauge, spell, frame.times[run])]
        ]
        for spell, frame, count in zip(spells, frames, counts, strict=True)
    ]
    delay = told_delay(watched, spells, deg, u_time_ns)
    if delay is not None:
        u_time_ns = delay.u_s * 1e9
    later_ns = 0 if delay is None else round(delay.later_s * 1e9)
    return [
        replace(_tagged(spell, runs, deg, later_ns, u_time_ns), delay=delay)
        for spell, runs in zip(spells, watched, strict=True)
    ]


def _watched(spell: Spell, frame: Readings, run: slice, found: Anchored) -> Watched:
    t = frame.times[run]
    here = (spell.gauge.times >= t[0]) & (spell.gauge.times <= t[-1])
    return Watched(t, frame.late[run], found, knots_of(t, found.steps) if t.size > 1 else None, here)


def _tagged(spell: Spell, runs: Sequence[Watched], deg: float, later_ns: int, u_time_ns: float) -> Tags:
    """Of one spell. deg: a step of the encoder; later_ns: the readings come so much later than stated."""
    tags, slips = Tags.none(spell.gauge.times.size), list[AngleSlip]()
    for run in runs:
        t, shifted = run.times, spell.gauge.times - later_ns
        here = run.here if later_ns == 0 else (shifted >= t[0]) & (shifted <= t[-1])
        times = shifted[here]
        angle, u = _between(run, times, deg, u_time_ns)
        late = spell.gauge.late[here]
        if late.any() or run.late.any():
            d_late = late_deg(times, late, t, run.found.steps * deg, run.late)
            u = np.sqrt(u**2 + d_late**2 / 12)
        tags.angle_deg[here], tags.u_deg[here], tags.known[here] = angle, u, True
        slips += [slip.in_deg(deg) for slip in run.found.slips]
    return replace(tags, slips=tuple(slips))


def _between(run: Watched, times: I64, deg: float, u_time_ns: float) -> tuple[F64, F64]:
    """Angles and their u at times between the first and the last of the frames."""
    t, found = run.times, run.found
    if run.way is None:
        return np.full(times.size, found.steps[0] * deg), np.full(times.size, abs(deg) * COVERED / 4.0)
    since = (times - t[0]).astype(np.float64)
    way = along(run.way, since)
    u = np.hypot(way.u, way.pace * u_time_ns)
    if found.u is not None:
        u = np.hypot(u, np.interp(since, (t - t[0]).astype(np.float64), found.u))
    return way.at * deg, u * abs(deg)


def told_delay(
    watched: Sequence[Sequence[Watched]], spells: Sequence[Spell], deg: float, u_time_ns: float
) -> Delay | None:
    """What the readings of a turn tell of how late they come."""
    runs = [
        (run, spell.gauge.times[run.here] - run.times[0], spell.gauge.values[run.here])
        for spell, some in zip(spells, watched, strict=True)
        for run in some
        if run.way is not None and run.here.any()
    ]
    if not runs:
        return None
    since = np.concatenate([times for _, times, _ in runs]).astype(np.float64)
    of = np.repeat(np.arange(len(runs)), [times.size for _, times, _ in runs])

    def angle_at(numbers: I64, earlier_s: float) -> F64:
        times, which, found = since[numbers] - earlier_s * 1e9, of[numbers], np.empty(numbers.size)
        for n, (run, _, _) in enumerate(runs):
            assert run.way is not None
            mine = which == n
            way, beyond = run.way, np.nan
            found[mine] = np.interp(times[mine], way.times, way.at, left=beyond, right=beyond) * deg
        return found

    value = np.concatenate([values for _, _, values in runs]) / NM_PER_MM
    return delay_of(angle_at, value, u_time_ns / 1e9)


def _joined(wraps_at: int, values: Sequence[I64]) -> list[I64]:
    """Unwrapped over all spells: from one to the next the crank is taken to have come the shorter way, as
    nothing was seen of it."""
    before: int | None = None
    joined = []
    for raw in values:
        run = unwrap(raw, wraps_at)
        if run.size:
            if before is not None:
                step = shorter_way(np.array([int(run[0]) - before], dtype=np.int64), wraps_at)
                run = run - run[0] + before + step[0]
            before = int(run[-1])
        joined.append(run)
    return joined


def _runs(gauge: str | None, spell: Spell, times: I64) -> list[slice]:
    """The frames between whose ends it was not away."""
    away = [e.time_ns for e in spell.events if isinstance(e, GaugeAway) and e.gauge == gauge]
    breaks = sorted({int(np.searchsorted(times, time, side="left")) for time in away})
    edges = [0, *(b for b in breaks if 0 < b < times.size), times.size]
    return [slice(a, b) for a, b in itertools.pairwise(edges) if b > a]


def _indices(gauge: str | None, spell: Spell, times: I64) -> list[int]:
    """Of those frames the ones before which its index had come since the frame before; the first has none."""
    came = [e.time_ns for e in spell.events if isinstance(e, IndexPassed) and e.gauge == gauge]
    if not came:
        return []
    place = np.searchsorted(times, np.array(came, dtype=np.int64), side="left")
    return sorted(
        {int(n) for n, time in zip(place, came, strict=True) if 0 < n < times.size and times[n] == time}
    )


def _seen_step(runs: Iterable[I64]) -> int:
    """The largest step of which all movements of the encoder are whole numbers; 0 where too few are seen."""
    away = [np.zeros(0, dtype=np.int64), *(np.abs(run - run[0]) for run in runs if run.size)]
    moves = np.unique(np.concatenate(away))[1:]
    return int(np.gcd.reduce(moves)) if moves.size >= MOVES_TO_TELL else 0
