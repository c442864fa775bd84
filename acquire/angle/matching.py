"""Which of a sweep's stops were at the marks. Pure.

Between two presses lie marks at known places, and stops at unknown ones. How far the crank had come at each
stop is known to a walk's variance (`warp`); at a mark, for the valves, technicians stop longer than a hand
rests between strokes. All ways to give each mark a stop of its own, in order, are weighed against each other:

    log weight = Σ over parts −(way − told)²/2v − ½ ln v  +  Σ over marks of what its stop's length is worth

and summed forward and backward. A mark may also have had no stop that can be seen. Where the best answer of
any mark is not nearly certain, the matching is ambiguous.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from acquire.angle.moves import Blocks, runs_of
from acquire.angle.warp import Way
from grading.evidence import F64

Told = Mapping[int, int]
# Stops whose places differ by less are one: the ratchet lets the crank back, and it is set on the mark again.
ONE_STOP_DEG = 7.0
# A stop shorter than this is a hand that changes its grip.
STOP_S = 0.4
# Log odds that a stop of so many seconds was made at a mark rather than between strokes: our own choice.
LENGTH_S, LENGTH_WORTH = (0.5, 1.0, 2.0, 3.0, 4.0, 10.0), (-3.0, -1.5, -1.2, -0.8, 1.5, 2.2)
# A hand's habits are known less than a walk has it: its variance counts so many times. Found by simulation.
LESS_KNOWN = 3.0
# Log weight of a mark without a stop that can be seen.
UNSEEN_WORTH = -9.0
# And of a stop that a person says was at a mark: nothing outweighs that.
TOLD_WORTH = 50.0
# The least certainty with which a mark's stop is taken for it; below it those are asked about that have this
# chance, the likeliest so many.
CERTAIN, LIKELY, ASKED_MOST = 0.99, 0.005, 4


@dataclass(frozen=True, slots=True)
class Stop:
    """The crank stood from … to, seconds from the first reading; deg, variance: how far it had come."""

    from_s: float
    to_s: float
    deg: float
    variance: float

    @property
    def middle_s(self) -> float:
        """Half-way through."""
        return 0.5 * (self.from_s + self.to_s)

    @property
    def lasted_s(self) -> float:
        """How long."""
        return self.to_s - self.from_s


@dataclass(frozen=True, slots=True)
class Matching:
    """stop: for each mark the number of its stop, None where it had none that can be seen; sure: how
    certain that is; likely: the stops that may have been it, in order of time."""

    stop: tuple[int | None, ...]
    sure: tuple[float, ...]
    likely: tuple[tuple[int, ...], ...]

    @property
    def doubtful(self) -> int | None:
        """The mark that is least certain, where it is not certain enough."""
        least = int(np.argmin(self.sure)) if self.sure else None
        return None if least is None or self.sure[least] >= CERTAIN else least


def stops_of(blocks: Blocks, way: Way) -> list[Stop]:
    """All stops in order of time; those at one place joined."""
    begins = runs_of(blocks.moves)
    ends = np.append(begins[1:], blocks.moves.size)
    found: list[Stop] = []
    for first, end in zip(begins.tolist(), ends.tolist(), strict=True):
        lasts = float(blocks.edge_s[end] - blocks.edge_s[first])
        if blocks.moves[first] or lasts < STOP_S:
            continue
        deg, variance = (0.5 * float(x[first] + x[end]) for x in (way.deg, way.variance))
        stop = Stop(float(blocks.edge_s[first]), float(blocks.edge_s[end]), deg, variance)
        if found and deg - found[-1].deg < ONE_STOP_DEG:
            stop = max(found.pop(), stop, key=lambda each: each.lasted_s)
        found.append(stop)
    return found


def match(
    stops: Sequence[Stop], marks_deg: F64, way_deg: float, variance: float, total_deg: float, told: Told
) -> Matching:
    """Marks between two presses, in order, degrees from the first press; stops between them. way_deg,
    variance: from the first press to the second, which are total_deg apart. told: what a person says, the
    stop of a mark by its number."""
    if marks_deg.size == 0:
        return Matching((), (), ())
    scale = total_deg / max(way_deg, 1e-9)
    way = np.array([0.0, *(stop.deg * scale for stop in stops), total_deg])
    at = np.array([0.0, *(stop.variance * scale**2 for stop in stops), variance * scale**2])
    part = np.maximum(LESS_KNOWN * (at[None, :] - at[:, None]), 4.0)
    length = np.array([stop.lasted_s for stop in stops])
    worth = np.interp(np.log(np.maximum(length, 0.1)), np.log(LENGTH_S), LENGTH_WORTH)
    place = np.array([0.0, *marks_deg, total_deg])
    n, k = marks_deg.size, len(stops)
    # Each way leaves out some marks: of the others, each follows the one before.
    later = way[None, :] - way[:, None]
    follows = np.triu(np.ones((k + 2, k + 2), dtype=bool), 1)

    def step(one: int, next_: int) -> F64:
        off = later - (place[next_] - place[one])
        return np.where(follows, -0.5 * off**2 / part - 0.5 * np.log(2 * np.pi * part), -np.inf)

    own = np.full((n + 2, k + 2), -np.inf)
    own[0, 0], own[n + 1, k + 1] = 0.0, 0.0
    own[1 : n + 1, 1 : k + 1] = worth
    for mark, stop in told.items():
        own[mark + 1] = np.where(np.arange(k + 2) == stop + 1, TOLD_WORTH, -np.inf)
    ahead, after = np.full((n + 2, k + 2), -np.inf), np.full((n + 2, k + 2), -np.inf)
    ahead[0], after[n + 1] = own[0], own[n + 1]
    for j in range(1, n + 2):
        ways = [_sum(ahead[i][:, None] + step(i, j), 0) + UNSEEN_WORTH * (j - i - 1) for i in range(j)]
        ahead[j] = _sum(np.array(ways), 0) + own[j]
    for j in range(n, -1, -1):
        ways = [
            _sum(step(j, i) + after[i][None, :], 1) + UNSEEN_WORTH * (i - j - 1) for i in range(j + 1, n + 2)
        ]
        after[j] = _sum(np.array(ways), 0) + own[j]
    inner = np.s_[1 : n + 1, 1 : k + 1]
    with np.errstate(invalid="ignore"):
        log_chance = ahead[inner] + after[inner] - own[inner] - float(ahead[n + 1, k + 1])
    chance = np.exp(np.where(np.isfinite(log_chance), log_chance, -np.inf))
    chance = np.column_stack([chance, np.maximum(1.0 - chance.sum(axis=1), 0.0)])
    order = np.argsort(-chance, axis=1, kind="stable")
    best = tuple(None if i == k else int(i) for i in order[:, 0].tolist())
    sure = tuple(float(c) for c in chance[np.arange(n), order[:, 0]])
    likely = tuple(
        tuple(sorted(int(i) for i in row[:ASKED_MOST] if i < k and of[i] >= LIKELY))
        for row, of in zip(order, chance, strict=True)
    )
    return Matching(best, sure, likely)


def _sum(x: F64, axis: int) -> F64:
    """Log of the sum of exponentials."""
    top = np.max(x, axis=axis, keepdims=True)
    top = np.where(np.isfinite(top), top, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.sum(np.exp(x - top), axis=axis)) + np.squeeze(top, axis=axis))
