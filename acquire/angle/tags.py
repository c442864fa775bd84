"""The final tags of one spell's readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from grading.evidence import F64, AngleSlip, Delay, StopQuestion


@dataclass(frozen=True, slots=True)
class Tags:
    """Shape (n,) each: which readings have an angle, the angle as barred and its standard uncertainty in
    degrees; 0 where there is none. slips: where the source lost its place, as it found later. delay: the
    readings are tagged as of so much earlier. stood_mm: the highest or lowest value, where the readings stood
    still there and the crank was taken to stand. runs_on: whether errors run on from reading to reading.
    question: what a person must answer before there can be angles."""

    known: NDArray[np.bool_]
    angle_deg: F64
    u_deg: F64
    slips: tuple[AngleSlip, ...] = ()
    delay: Delay | None = None
    stood_mm: float | None = None
    runs_on: bool = False
    question: StopQuestion | None = None

    @classmethod
    def none(cls, n: int) -> Tags:
        """Of n readings none has an angle."""
        return cls(np.zeros(n, dtype=bool), np.zeros(n), np.zeros(n))
