"""A whole number in binary, such as a converter's count (common practice, no source):

byte   0    1    2    3
       FF   FF   FD   12      low or high first, two's complement: -750, with three decimals -0.750 mm
"""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from typing import Literal

from config.profile import IntegerValue, Says, WireUnit
from drivers.errors import EncodeError, FrameError, StatusError
from drivers.values.base import HARMLESS, WHOLE, WIDE


class IntegerCodec:
    """Of one gauge, which is named in what is said of bad frames."""

    def __init__(self, kind: IntegerValue, gauge: str) -> None:
        self.unit, per_unit = WHOLE[kind.unit]
        self.expected = f"{kind.length} bytes with a whole number of {kind.size}"
        self.has_index = kind.index is not None
        self._kind = kind
        self._gauge = gauge
        self._order: Literal["big", "little"] = "big" if kind.order == "high-first" else "little"
        self._own = slice(kind.at, kind.at + kind.size)
        self._divisor = per_unit * kind.scale
        self.decimals = kind.decimals
        self.says: Says | None = None
        self.shows: WireUnit | None = None
        self._per_step: Fraction = Fraction(kind.scale) * per_unit / 10**kind.decimals

    def value(self, data: bytes) -> int:
        """The value in whole nanometres, microdegrees or counts. Raises FrameError."""
        kind = self._kind
        if len(data) != kind.length or any(data[mark.at] != mark.byte for mark in kind.marks):
            raise FrameError(self._gauge, self.expected, data)
        if kind.status:
            self.says = next((one.means for one in kind.status if data[one.at] & one.mask == one.mask), None)
            if self.says is not None and self.says not in HARMLESS:
                raise StatusError(self._gauge, self.expected, data, self.says)
        number = int.from_bytes(data[self._own], self._order, signed=kind.signed)
        return round(number * self._per_step)

    def index(self, data: bytes) -> bool:
        """Whether those bits are set."""
        bits = self._kind.index
        return bits is not None and data[bits.at] & bits.mask == bits.mask

    def write(self, value: int) -> bytes:
        """The data of a frame that shows `value`. Raises EncodeError where it does not fit."""
        kind = self._kind
        shown = WIDE.divide(Decimal(value), self._divisor).scaleb(kind.decimals, WIDE)
        number = int(shown.quantize(Decimal(1), ROUND_HALF_EVEN, WIDE))
        data = bytearray(kind.length)
        for mark in kind.marks:
            data[mark.at] = mark.byte
        try:
            data[self._own] = number.to_bytes(kind.size, self._order, signed=kind.signed)
        except OverflowError:
            raise EncodeError(f"expected a whole number of {kind.size} bytes, got {number}") from None
        return bytes(data)
