"""Which places of frames count them: a counter goes on by one from frame to frame, also while nothing moves.

    A5 07 00 00 BE 6A
    A5 08 00 00 BE 6B      the second byte counts, the last is a sum
    A5 09 00 00 BE 6C

It says nothing of the value, and is left out of what must be explained.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from drivers.learn.heard import Cut, Step

# A counter begins anew after so many: a byte, a digit of four bits, its lower bits, or decimal digits.
BEGINS_ANEW = (256, 128, 100, 64, 32, 16, 10, 8, 4)
# The share of frames that must follow by one: some were lost in between.
FOLLOWING = 0.8
# Pairs of frames that show it at least, and of those that came while nothing moved.
LEAST, LEAST_AT_REST = 8, 3


def counters(cut: Cut, steps: Sequence[Step]) -> list[int]:
    """The places of bytes that count, of frames of one length."""
    every = cut.every
    return [at for at in range(len(every[0])) if _counts([[f[at] for f in some] for some in cut.data], steps)]


def _counts(numbers: Sequence[Sequence[int]], steps: Sequence[Step]) -> bool:
    if len({number for some in numbers for number in some}) <= 2:
        return False
    at_rest = [some for some, step in zip(numbers, steps, strict=True) if step.at is not None]
    return any(
        _follow(at_rest, turn, LEAST_AT_REST) and _follow(numbers, turn, LEAST) for turn in _turns(numbers)
    )


def _turns(numbers: Sequence[Sequence[int]]) -> list[int]:
    """After how many it may begin anew: no number of it, less its upper bits where they stand still, is
    larger."""
    every = {number for some in numbers for number in some}
    return [turn for turn in BEGINS_ANEW if len({number // turn for number in every}) == 1]


def _follow(numbers: Sequence[Sequence[int]], turn: int, least: int) -> bool:
    moves = [(b - a) % turn for some in numbers for a, b in pairwise(some)]
    return len(moves) >= least and sum(move == 1 for move in moves) >= FOLLOWING * len(moves)
