"""Lengths as a person reads them, in millimetres or inches: figures, and those within sentences.

What is told in a sentence is in mm. For a display in inches its numbers are converted where they are
shown, exactly (1 in = 25 400 000 nm), and rounded once, half to even: to the decimals that figures have
beside it, to one more than the number in mm has, or to two digits that count, whichever is most.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from contract.units import NM_PER_INCH, NM_PER_MM

_NUMBER = r"[+-]?\d+(?:\.\d+)?"
_LENGTHS = re.compile(
    # `0.310, 0.205 mm`, `4.60 of the 5 mm`: the unit is said once, for all of them; a count has no decimals.
    rf"(?<![\w.])(?:[+-]?\d+\.\d+(?:, | and | or | to | of the | ± ))*{_NUMBER} mm(?![\w²³/])"
)


@dataclass(frozen=True, slots=True)
class LengthUnit:
    """In which unit lengths are shown, with how many decimals."""

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

    def sentence(self, text: str, exact_mm: Iterable[float] = ()) -> str:
        """A sentence of ours, its lengths in this unit; one that speaks of inches itself is left as it is.

        exact_mm: figures that it may tell, so that one comes out as it does beside the sentence.
        """
        if self.name == "mm" or "inch" in text:
            return text
        known = tuple(exact_mm)
        return _LENGTHS.sub(lambda found: self._run(found[0], known), text)

    def _run(self, text: str, exact_mm: tuple[float, ...]) -> str:
        numbers = re.sub(_NUMBER, lambda found: self._told(found[0], exact_mm), text.removesuffix("mm"))
        return numbers + self.name

    def _told(self, number: str, exact_mm: tuple[float, ...]) -> str:
        """A number of mm. Of the figures that it may be a rounding of, the nearest is meant."""
        told, decimals = Decimal(number), len(number.partition(".")[2])
        sign = "+" if number.startswith("+") else ""
        near = [abs(mm) for mm in exact_mm if format(abs(mm), f".{decimals}f") == format(abs(told), "f")]
        if near:
            mm = min(near, key=lambda one: abs(Decimal(one) - abs(told)))
            more = max(0, decimals + 1 - self.decimals)
            return self.number(-mm if told.is_signed() else mm, sign=sign, more=more)
        inches = told / self.mm_per
        shown = max(self.decimals, decimals + 1, 1 - inches.adjusted() if inches else 0)
        return format(inches.quantize(Decimal(1).scaleb(-shown), ROUND_HALF_EVEN), f"{sign}f")


UNITS = {
    "mm": LengthUnit("mm", 1.0, 3),
    "in": LengthUnit("in", NM_PER_MM / NM_PER_INCH, 4),
}
