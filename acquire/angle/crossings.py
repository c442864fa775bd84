"""The crank between an encoder's frames, from where its value changed and where it stood. Pure.

    steps
     2 |                          o-- -- -- --o      o  knot: the crank is known to have been there then
       |                        x                    x  the value changed by one between two frames: the crank
     1 |                      /                         passed the edge between two steps, some time between
       |                   x                         -- the value stays: the crank stands, amid its step
     0 |  o-- -- -- --o  /                              as nothing tells where in it
       +-------------------------------------------- time

A value v says that the crank is between v - 1/2 and v + 1/2 steps. Where frames are so close that it changes
by one, the edge between is known far better than the step: to how far the crank went from one frame to the
next. Where it changes by more, each of the two frames is a knot of its own. Where it stays for much longer
than the crank needs to get through a step as it came, the crank stood; that a stand lasts a second or an hour
makes no difference. Between knots: evenly, and never beyond the first or last frame.

How well an angle is known. A knot lies anywhere within its half-width (rectangular): half a step for a frame;
for an edge half of what the crank went between its two frames. A share f of the way from one knot to the next
the two join as (1 - f)·h1 and f·h2; the width that holds the sum of two rectangular quantities with 95 % is
that of a trapezoid (JCGM 101:2008, 6.4.4 with its figure; the quantile by plain geometry). That the crank did
not go evenly adds f·(1 - f) times the mean bend at the two knots, which is what it would be off if it set out
or stopped there at once. u is half of the 95 % width throughout: within +-2·u the angle lies with 95 %, as is
said of it, for a rectangular as for any other error (JCGM 100:2008, 6.3.3, k = 2).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.angle.spell import I64
from grading.evidence import F64

STAND_SHARE = 0.4
"""The value stays: of the time between two changes, what the crank does not need to come and go; from here on
it stood. Below, it may have come through slowly. Our own choice."""
SLOW_SHARE = 0.5
"""A crank that comes to a stand, or leaves one, goes no slower than this of its usual pace: own choice."""
PEAK_SHARE = 0.75
"""How far into a step a crank went that turned back in it, of what its pace allows; our own choice."""
COVERED = 0.95
"""What +-2·u holds."""


@dataclass(frozen=True, slots=True)
class Knots:
    """Shape (k,): times in ns from the first frame, places and half-widths in steps of the encoder; whether
    the crank stands from here to the next."""

    times: F64
    at: F64
    half: F64
    stands: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Along:
    """At each of some times: the place, half of what holds it with 95 %, and the pace, in steps (per ns)."""

    at: F64
    u: F64
    pace: F64


def knots_of(times: I64, steps: F64) -> Knots:
    """From frames in order of time, shape (n >= 2,), each with its value in steps."""
    t = (times - times[0]).astype(np.float64)
    moved = np.abs(np.diff(steps))
    by_one, by_more = np.flatnonzero((moved > 0.5) & (moved < 1.5)), moved >= 1.5
    is_knot = np.zeros(t.size, dtype=bool)
    is_knot[[0, -1]] = True
    is_knot[:-1] |= by_more
    is_knot[1:] |= by_more
    frames = np.flatnonzero(is_knot)
    # Of each knot the frame before and the one after it: the same one where it is a frame itself.
    before, after = np.concatenate([frames, by_one]), np.concatenate([frames, by_one + 1])
    order = np.lexsort((after, before))
    before, after = before[order], after[order]
    at, when = (steps[before] + steps[after]) / 2.0, (t[before] + t[after]) / 2.0
    pace = _over(np.abs(np.diff(at)), np.diff(when))
    fastest = np.maximum(np.concatenate([[0.0], pace]), np.concatenate([pace, [0.0]]))
    half = np.where(after > before, np.minimum(fastest * (t[after] - t[before]), 1.0) / 2.0, 0.5)
    known = Knots(when, at, half, np.zeros(when.size, dtype=bool))
    return _with_stands(known, t, steps, before, after, pace)


def _with_stands(known: Knots, t: F64, steps: F64, before: I64, after: I64, pace: F64) -> Knots:
    """The same, and where between two of them the crank stood, or turned back within a step."""
    when, at = known.times, known.at
    begin, end, spent = when[:-1], when[1:], np.diff(when)
    step = steps[after[:-1]]
    # Paces through whole steps tell how it came and went; one of a part may have stood.
    whole = np.where(np.abs(np.diff(at)) >= 0.75, pace, 0.0)
    some = whole[whole > 0.0]
    usual = float(np.median(some)) if some.size else 0.0
    came = np.maximum(np.concatenate([[0.0], whole[:-1]]), SLOW_SHARE * usual)
    went = np.maximum(np.concatenate([whole[1:], [0.0]]), SLOW_SHARE * usual)
    stays = np.abs(steps[before[1:]] - step) < 0.5
    first = np.maximum(begin + _over(np.abs(step - at[:-1]), came), t[after[:-1]])
    last = np.minimum(end - _over(np.abs(at[1:] - step), went), t[before[1:]])
    stood = stays & (before[1:] > after[:-1]) & (last - first > STAND_SHARE * spent)
    edges = after > before
    turned = stays & ~stood & edges[:-1] & edges[1:] & (np.abs(np.diff(at)) < 0.5)
    reach = np.minimum(0.5, PEAK_SHARE * _over(spent, _over(1.0, came) + _over(1.0, went)))
    peak = at[:-1] + np.sign(step - at[:-1]) * reach
    stands, turns = int(stood.sum()), int(turned.sum())
    joined = Knots(
        np.concatenate([when, first[stood], last[stood], (begin + end)[turned] / 2.0]),
        np.concatenate([at, step[stood], step[stood], peak[turned]]),
        np.concatenate([known.half, np.full(2 * stands, 0.5), reach[turned]]),
        np.concatenate([known.stands, np.ones(stands, dtype=bool), np.zeros(stands + turns, dtype=bool)]),
    )
    order = np.lexsort((joined.stands, joined.times))
    return Knots(joined.times[order], joined.at[order], joined.half[order], joined.stands[order])


def along(knots: Knots, times: F64) -> Along:
    """Between those knots; times in ns from the first frame, none before it or after the last."""
    spent = np.diff(knots.times)
    pace = _over(np.diff(knots.at), spent)
    changes = np.concatenate([[0.0], np.abs(np.diff(pace)), [0.0]])
    # A crank that goes from knot to knot without turning back is off by no more than what lies between them.
    most = 4.0 * np.maximum(np.abs(np.diff(knots.at)), 1.0)
    bend = np.minimum(spent * (changes[:-1] + changes[1:]) / 2.0, most)
    bend = np.where(knots.stands[:-1], 0.0, bend)
    here = np.clip(np.searchsorted(knots.times, times, side="right") - 1, 0, knots.times.size - 2)
    share = np.clip(_over(times - knots.times[here], spent[here]), 0.0, 1.0)
    left, right = knots.half[here], knots.half[here + 1]
    held = np.where(knots.stands[here], COVERED * left, _holds((1.0 - share) * left, share * right))
    u = np.hypot(held / 2.0, share * (1.0 - share) * bend[here])
    at = knots.at[here] + share * (knots.at[here + 1] - knots.at[here])
    return Along(at, u, np.abs(pace[here]))


def _holds(one: F64, other: F64) -> F64:
    """Half of the width that holds with 95 % the sum of two rectangular quantities of these half-widths."""
    wide, narrow = np.maximum(one, other), np.minimum(one, other)
    in_slope = wide + narrow - 2.0 * np.sqrt((1.0 - COVERED) * wide * narrow)
    held: F64 = np.where(narrow > (1.0 - COVERED) * wide, in_slope, COVERED * wide)
    return held


def _over(part: F64 | float, whole: F64) -> F64:
    """part / whole; 0 where that is none, as between two things at the same time."""
    wanted = whole > 0.0
    found: F64 = np.where(wanted, part / np.where(wanted, whole, 1.0), 0.0)
    return found
