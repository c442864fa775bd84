"""A gauge, as it is carried whole from its settings into journal, evidence and result."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated

from pydantic import Field

from contract.header import Finite
from contract.units import NM_PER_MM


@dataclass(frozen=True, slots=True)
class GaugeFacts:
    """What is stated of the gauge that read, and what lifts at the bay said of it.

    resolution_mm: one step of its display. mpe_mm: maximum permissible error: the difference
    between any two of its readings is wrong by at most this (rectangular). repeatability_mm: the
    standard deviation of a repeatability test at the bay, where one was made, the display's step
    included; repeatability_dof: its degrees of freedom, None where it is known otherwise.
    repeatability_fault: why the latest such test does not count, with what to do. travel_mm: how far its
    plunger can move, where that is stated. latency_u_ns: standard uncertainty of its readings' times, which
    makes it no other gauge. unit_hidden: another unit, switched to at the gauge, does not show in the form of
    what it sends.
    The result document says all but the last four.
    """

    id: str
    resolution_mm: Finite
    mpe_mm: Finite
    calibration_due: str | None = None
    repeatability_mm: Finite | None = None
    repeatability_dof: int | None = None
    repeatability_fault: Annotated[str | None, Field(exclude=True)] = None
    travel_mm: Annotated[Finite | None, Field(exclude=True)] = None
    latency_u_ns: Annotated[int, Field(exclude=True)] = field(default=0, compare=False)
    unit_hidden: Annotated[bool, Field(exclude=True)] = field(default=False, compare=False)

    @property
    def resolution_nm(self) -> int:
        """One step of its display, as readings are counted."""
        return round(self.resolution_mm * NM_PER_MM)

    @property
    def travel_nm(self) -> int | None:
        """How far its plunger can move."""
        return None if self.travel_mm is None else round(self.travel_mm * NM_PER_MM)
