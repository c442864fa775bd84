"""When a hand-barred crank moved, as the gauge's own readings show it. Pure.

Readings are taken together in blocks of a fifth of a second. A fine gauge shows standing: readings that keep
within a band for longer than a crank that turns could stay in it. A coarse one shows moving: means before and
after that differ by more than its step and noise. What is neither to be seen counts as moving by the first,
as standing by the second; `warp` allows for either.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from acquire.angle.spell import I64
from contract.units import NM_PER_MM
from grading.evidence import F64

Bools = NDArray[np.bool_]
# A hand bars by some degrees within one block.
BLOCK_S = 0.2
# A gauge is fine where its step is less than this share of half of what the readings span.
FINE_SHARE = 0.02
# Degrees a second of a slow hand; to stand is to stay in a band twice as long as at this.
SLOW_DEG_S, TWICE = 15.0, 2.0
# Numbers of blocks over which standing is looked for, and over which means are compared; from STAYS on a step
# of the display that stays counts.
STANDS, WIDE, STAYS = (2, 3, 4, 5, 6, 8, 10, 13, 17, 22, 30, 40), (1, 2, 4, 8), 4
# Standard deviations of a mean that noise hardly reaches.
CLEAR = 5.0
# What moved by less than this share of the band came back: the ratchet's play, where it took so many seconds
# at the most, or a flicker, where it kept so near.
CAME_BACK, CAME_BACK_S, KEPT_NEAR = 0.5, 1.5, 1.5
# Blocks on either side of a movement by which the band of rest is told.
BESIDE = 10


@dataclass(frozen=True, slots=True)
class Blocks:
    """Shape (b,), in order of time. edge_s: shape (b + 1,), where blocks begin and end, in seconds from the
    first reading; value_mm: mean; moves: whether the crank is seen to move. step_mm: of the display; band_mm:
    within which readings of a crank that stands keep."""

    edge_s: F64
    value_mm: F64
    moves: Bools
    step_mm: float
    band_mm: float

    @property
    def lasts_s(self) -> F64:
        """How long each lasts."""
        return np.diff(self.edge_s)

    @property
    def half_mm(self) -> float:
        """Half of what they span."""
        return max(0.5 * float(np.ptp(self.value_mm)), 1e-6)

    @property
    def height(self) -> F64:
        """From -1, the lowest, to 1, the highest."""
        middle = 0.5 * float(self.value_mm.min() + self.value_mm.max())
        return np.clip((self.value_mm - middle) / self.half_mm, -1.0, 1.0)

    def wide_deg(self, height: F64, band_mm: float) -> F64:
        """How far an eccentric that spans as much turns within a band about these heights."""
        part = band_mm / self.half_mm / 2
        across = np.arccos(np.clip(height - part, -1, 1)) - np.arccos(np.clip(height + part, -1, 1))
        return np.asarray(np.degrees(across) * np.where(np.abs(height) + part > 1, 2.0, 1.0))


def blocks_of(times: I64, values: I64, step_nm: int) -> Blocks:
    """Of readings in order of time (ns, nm), two at the least."""
    seconds, value, step = (times - times[0]) / 1e9, values / NM_PER_MM, step_nm / NM_PER_MM
    of = np.concatenate([[0], np.cumsum(np.diff(np.floor(seconds / BLOCK_S)) != 0)])
    count = np.bincount(of).astype(np.float64)
    at, mean = np.bincount(of, seconds) / count, np.bincount(of, value) / count
    edge = np.concatenate([at[:1], 0.5 * (at[1:] + at[:-1]), at[-1:]])
    found = Blocks(edge, mean, np.zeros(at.size, dtype=bool), step, _band_mm(mean, step))
    if step < FINE_SHARE * found.half_mm:
        moves = _flickers_not(found, ~_stands(found))
        # How long a rest is must not count: the band anew, by what lies near a movement.
        near = np.convolve(moves, np.ones(2 * BESIDE + 1))[BESIDE : BESIDE + moves.size] > 0
        if near.sum() > BESIDE:
            found = replace(found, band_mm=_band_mm(mean[near], step))
        moves = ~_stands(found)
    else:
        moves = _differs(mean, count, _noise_mm(value), step)
    return replace(found, moves=_flickers_not(found, moves))


def runs_of(moves: Bools, cuts: I64 | None = None) -> I64:
    """Where each run of blocks begins that are alike, and none goes on over a cut."""
    begins = np.flatnonzero(np.diff(moves, prepend=not moves[0]))
    return begins if cuts is None else np.unique(np.concatenate([begins, cuts[cuts < moves.size]]))


def _band_mm(mean: F64, step: float) -> float:
    """By the quietest quarter of what neighbouring blocks span: a hand rests at least as long."""
    if mean.size < 7:
        return 1.02 * step
    seen = sliding_window_view(mean, 5)
    quiet = float(np.quantile(seen.max(axis=1) - seen.min(axis=1), 0.25))
    return max(1.02 * step, 1.5 * quiet + 0.5 * step)


def _stands(blocks: Blocks) -> Bools:
    """Blocks within some stretch that keeps in the band for longer than a turning crank does there."""
    mean, out = blocks.value_mm, np.zeros(blocks.value_mm.size, dtype=bool)
    wide = blocks.wide_deg(blocks.height, blocks.band_mm + blocks.step_mm)
    need = 1.0 + TWICE * np.minimum(wide, 60.0) / SLOW_DEG_S / BLOCK_S
    highest = lowest = mean
    for part, k in itertools.pairwise((1, *(k for k in STANDS if k < mean.size))):
        # The highest of a window is that of two narrower ones that cover it.
        highest = np.maximum(highest[: mean.size - k + 1], highest[k - part :])
        lowest = np.minimum(lowest[: mean.size - k + 1], lowest[k - part :])
        keeps = np.concatenate([[0], np.cumsum(highest - lowest <= blocks.band_mm)])
        at = np.arange(mean.size)
        first, end = np.maximum(at - k + 1, 0), np.minimum(at + 1, keeps.size - 1)
        out |= (keeps[np.maximum(end, first)] > keeps[first]) & (k >= need)
    return out


def _flickers_not(blocks: Blocks, moves: Bools) -> Bools:
    """Those that move, without what came back."""
    for _ in range(2):
        moves = moves & ~_came_back(blocks, moves)
    return moves


def _came_back(blocks: Blocks, moves: Bools) -> Bools:
    """Blocks that move for a while only, between rests at one height."""
    begins = runs_of(moves)
    ends = np.append(begins[1:], moves.size)
    run = np.searchsorted(begins, np.arange(moves.size), side="right") - 1
    mean = np.bincount(run, blocks.value_mm) / np.bincount(run)
    net = np.abs(np.append(mean[1:], mean[-1]) - np.insert(mean[:-1], 0, mean[0]))
    lasts = blocks.edge_s[ends] - blocks.edge_s[begins]
    far = np.maximum.reduceat(np.abs(blocks.value_mm - mean[np.maximum(run - 1, 0)]), begins)
    brief = (lasts < CAME_BACK_S) | (far <= KEPT_NEAR * blocks.band_mm)
    return np.asarray((moves[begins] & (net <= CAME_BACK * blocks.band_mm) & brief)[run])


def _differs(mean: F64, count: F64, noise: float, step: float) -> Bools:
    """Blocks about which means of as many before and after, at one of several widths, differ by more than
    noise and the display's step explain."""
    n = mean.size
    moving, readings = np.zeros(n + 1, dtype=np.int64), np.concatenate([[0], np.cumsum(count)])
    for wide in (wide for wide in WIDE if 2 * wide <= n):
        seen = sliding_window_view(mean, wide)
        middle, high, low = seen.mean(axis=1), seen.max(axis=1), seen.min(axis=1)
        held = (readings[wide:] - readings[:-wide])[wide:]
        apart = np.abs(middle[wide:] - middle[:-wide])
        # A step up or down that stays is more than a display that flickers between two.
        rose = np.maximum(low[wide:] - high[:-wide], low[:-wide] - high[wide:])
        clear = (apart > 1.02 * step) | ((rose > 0.3 * step) & (wide >= STAYS))
        at = np.flatnonzero(clear & (apart > CLEAR * 2**0.5 * noise / np.sqrt(held))) + wide
        moving += np.bincount(at - 1, minlength=n + 1) - np.bincount(np.minimum(at + 1, n), minlength=n + 1)
    return np.cumsum(moving)[:n] > 0


def _noise_mm(value: F64) -> float:
    """Of single readings, from what neighbours differ by where most do least (median of squared second
    differences of a normal one: 6·0.455)."""
    if value.size < 4:
        return 0.0
    return float(np.sqrt(np.median(np.diff(value, 2) ** 2) / (6 * 0.455)))
