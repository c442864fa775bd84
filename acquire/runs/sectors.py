"""How a sweep's readings lie round the crank: where there is none yet, and by how much a second turn differs.

In constant memory, and so that figures which are shown many times a second cost next to nothing.
"""

from __future__ import annotations

from acquire.angle.source import TURN_UDEG
from contract.units import UDEG_PER_DEG

# Sectors in which readings are remembered: one degree each.
SECTORS = 360


class Sectors:
    """Angles in microdegrees, unwrapped; lengths in nm."""

    __slots__ = ("_first", "_gap_deg", "_number", "_off")

    def __init__(self) -> None:
        self._first: list[tuple[int, int] | None] = [None] * SECTORS
        self._gap_deg: float | None = 360.0
        self._off = self._number = 0

    def take(self, angle_udeg: int, value: int) -> None:
        """One reading."""
        sector = angle_udeg // UDEG_PER_DEG % SECTORS
        first = self._first[sector]
        if first is None:
            self._first[sector] = (angle_udeg, value)
            self._gap_deg = None
        elif abs(angle_udeg - first[0]) >= TURN_UDEG - UDEG_PER_DEG:
            self._off += value - first[1]
            self._number += 1

    @property
    def closure_nm(self) -> float | None:
        """By how much readings differ from those a turn before, in the mean; None where there are none."""
        return self._off / self._number if self._number else None

    @property
    def largest_gap_deg(self) -> float:
        """The longest run of sectors without a reading, to within one; 360 where there is none at all."""
        if self._gap_deg is None:
            filled = [sector for sector, first in enumerate(self._first) if first is not None]
            after = [*filled[1:], filled[0] + SECTORS]
            self._gap_deg = float(max(b - a for a, b in zip(filled, after, strict=True)) - 1)
        return self._gap_deg
