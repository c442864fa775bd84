"""What was heard of a gauge, and what was done meanwhile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from config.profile import PortSettings
from drivers.capture import Piece

Quantity = Literal["length", "angle"]
"""What is moved, in mm or in degrees."""


@dataclass(frozen=True, slots=True)
class Step:
    """What came while the gauge stood at one place, or was moved.

    at: where it stood, mm or degrees in from the first place; None: it was moved through its travel.
    """

    at: Fraction | None
    pieces: Sequence[Piece]


@dataclass(frozen=True, slots=True)
class Hearing:
    """All steps as they were heard with the port set in one way."""

    port: PortSettings
    steps: Sequence[Step]

    @property
    def data(self) -> bytes:
        """All bytes, of all steps."""
        return b"".join(piece.data for step in self.steps for piece in step.pieces)


@dataclass(frozen=True, slots=True)
class Cut:
    """Frames of one framing. data: for each step the data of each frame, without what only marks it."""

    data: Sequence[Sequence[bytes]]

    @property
    def every(self) -> list[bytes]:
        """All of them in order."""
        return [frame for step in self.data for frame in step]
