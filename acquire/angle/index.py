"""An encoder's index: a place of its own turn that it tells each time it passes; lost counts are seen there.

    counts     0 ........ P ........ 2P - 3        P: counts of one of its turns
    index      |          |          |             at the third, three counts are missing

With gears between, it comes once in each turn of the encoder, not of the crank. It came somewhere between two
frames: its place is known to half of what was counted between them, and a count. Counts that are missing at
an index were lost somewhere since the one before. They are put back: all of them from there on, and in
between in proportion to what was turned. A loss at one place of a stretch, any place of it as likely, is put
back wrongly by a quantity of mean 0 and variance d²·f·(1 - f), f the share of the stretch. Pure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from grading.evidence import F64, AngleSlip

INDEX_STEPS = 1.0
"""How much later the index may come when it is passed the other way: its own width. Our own choice."""


@dataclass(frozen=True, slots=True)
class Slip:
    """In steps: how many were lost (below 0 where it counts up), give or take what, between which places."""

    lost: float
    give: float
    since: float
    until: float

    def in_deg(self, deg: float) -> AngleSlip:
        """In degrees of the crank."""
        return AngleSlip(self.lost * deg, self.give * abs(deg), self.since * deg, self.until * deg)


@dataclass(frozen=True, slots=True)
class Anchored:
    """Shape (n,): an encoder's frames in steps, with what was lost put back; u: what that leaves uncertain,
    None where nothing was."""

    steps: F64
    u: F64 | None
    slips: tuple[Slip, ...]


class Anchor:
    """Where the index is, once it has come; handed the runs of an encoder's frames in order.

    per_turn: steps between two of it."""

    def __init__(self, per_turn: float) -> None:
        self._per_turn = per_turn
        self._place: tuple[float, float] | None = None
        self._put_back = 0.0

    def anchored(self, steps: F64, indices: Sequence[int]) -> Anchored:
        """One run of frames, shape (n,). indices: frames since whose predecessor the index came.

        From the run before to this one the encoder was away: what it lost meanwhile is told by no frame, and
        is put back for the whole of this one.
        """
        found, u, slips = steps + self._put_back, None, []
        last = 0 if self._place is None else None
        for n in indices:
            place, half = (found[n - 1] + found[n]) / 2.0, abs(found[n] - found[n - 1]) / 2.0 + INDEX_STEPS
            if self._place is None:
                self._place = place, half
            off, give = self._off(place), half + self._place[1]
            if abs(off) > give:
                self._put_back -= off
                if last is None:
                    found = found - off
                else:
                    slips.append(Slip(off, give, float(found[last]), float(found[n] - off)))
                    found, spread = _put_back(found, last, n, off)
                    u = spread if u is None else np.hypot(u, spread)
                    u[n:] = np.hypot(u[n:], give / 2.0)
            elif half < self._place[1]:
                self._place = self._place[0] + off, half
            last = n
        return Anchored(found, u, tuple(slips))

    def _off(self, place: float) -> float:
        """By how much a place of the index is not where it was, by the shorter way."""
        assert self._place is not None
        half = self._per_turn / 2.0
        return float((place - self._place[0] + half) % self._per_turn - half)


def _put_back(steps: F64, since: int, until: int, off: float) -> tuple[F64, F64]:
    """The steps with `off` taken out from one frame to the other, and what that leaves uncertain."""
    turned = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(steps[since : until + 1])))])
    share = turned / turned[-1] if turned[-1] > 0.0 else np.ones(turned.size)
    mended, u = steps.copy(), np.zeros(steps.size)
    mended[since : until + 1] -= off * share
    mended[until + 1 :] -= off
    u[since : until + 1] = abs(off) * np.sqrt(share * (1.0 - share))
    return mended, u
