"""Whether the crank is taken to have stood where the readings were highest or lowest. Pure.

A plunger that is held there, or at the end of its travel, shows the very same: nothing moves while the crank
goes on over the crest that is not seen.
"""

from __future__ import annotations

import itertools

import numpy as np

from acquire.angle.moves import Blocks, runs_of

# Seconds that readings stand still to be worth a word: a hand bars by 20 degrees meanwhile, over which an
# eccentric that spans the limit falls off by a hundredth of it.
STOOD_S = 0.6
# Within so many times the band, or this share of half of what the readings span, they are at an end of it: a
# crest that is a little lower than another may be the higher one cut off.
NEAR_BANDS, NEAR_SHARE = 1.5, 0.04


def stood_mm(blocks: Blocks) -> float | None:
    """The highest or the lowest value where the readings stood still about there; None where they did not."""
    low, high = float(blocks.value_mm.min()), float(blocks.value_mm.max())
    near = max(NEAR_BANDS * blocks.band_mm, NEAR_SHARE * blocks.half_mm)
    begins = runs_of(blocks.moves)
    for first, end in itertools.pairwise(np.append(begins, blocks.moves.size).tolist()):
        if blocks.moves[first] or blocks.edge_s[end] - blocks.edge_s[first] < STOOD_S:
            continue
        value = blocks.value_mm[first:end]
        if float(value.max()) >= high - near:
            return high
        if float(value.min()) <= low + near:
            return low
    return None
