"""Lengths as a person reads them, in millimetres or inches."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from contract.units import NM_PER_INCH, NM_PER_MM


@dataclass(frozen=True, slots=True)
class LengthUnit:
    """In which unit lengths are shown, with how many decimals. Sentences of others keep theirs."""

    name: str
    per_mm: float
    decimals: int

    @property
    def mm_per(self) -> Decimal:
        """Millimetres in one of it, exactly."""
        return Decimal(1) if self.name == "mm" else Decimal(NM_PER_INCH) / NM_PER_MM

    def number(self, mm: float | None, *, sign: str = "", more: int = 0) -> str:
        """Without its unit; a dash where there is none. more: further decimals."""
        return "–" if mm is None else format(mm * self.per_mm, f"{sign}.{self.decimals + more}f")

    def length(self, mm: float | None, *, sign: str = "", more: int = 0) -> str:
        """With its unit."""
        return f"{self.number(mm, sign=sign, more=more)} {self.name}"


UNITS = {
    "mm": LengthUnit("mm", 1.0, 3),
    "in": LengthUnit("in", NM_PER_MM / NM_PER_INCH, 4),
}
