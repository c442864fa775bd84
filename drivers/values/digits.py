"""A number given digit by digit, two to a byte or each as a character (common practice, no source):

    place   0  1  2  3  4  5  6  7  8  9
            8  0  0  0  1  9  0  3  E  E
            │  └─── number ───┘  │  └──┴ marks
            └ sign, inch         └ decimals: -0.190 mm

A frame is a value only if every place holds a digit that may stand there.
"""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from config.profile import CHARACTER, MIRRORED, DigitsValue, Says, WireUnit, paired
from contract.units import NM_PER_INCH, NM_PER_MM
from drivers.errors import EncodeError, FrameError, StatusError
from drivers.values.base import HARMLESS, WHOLE, WIDE


class DigitsCodec:
    """Of one gauge, which is named in what is said of bad frames."""

    def __init__(self, kind: DigitsValue, gauge: str) -> None:
        self.unit, per_unit = WHOLE[kind.unit]
        alphabets = kind.alphabets
        self.expected = f"{len(kind.digits)} digits as {kind.coding} in {len(alphabets)} bytes"
        self.has_index = kind.index is not None
        self._kind = kind
        self._gauge = gauge
        self._alphabets = alphabets
        self._divisor = per_unit * kind.scale
        scale = Fraction(kind.scale)
        self._per_unit = (scale * per_unit, scale * per_unit)
        if kind.inch is not None:
            self._per_unit = (scale * NM_PER_MM, scale * NM_PER_INCH)
        self.decimals = kind.decimals
        self.says: Says | None = None
        self.shows: WireUnit | None = None

    def value(self, data: bytes) -> int:
        """The value in whole nanometres, microdegrees or counts. Raises FrameError."""
        kind = self._kind
        if len(data) != len(self._alphabets) or not all(map(frozenset.__contains__, self._alphabets, data)):
            raise FrameError(self._gauge, self.expected, data)
        digits = self._digits(data)
        if kind.status:
            self.says = next(
                (one.means for one in kind.status if digits[one.at] & one.mask == one.mask), None
            )
            if self.says is not None and self.says not in HARMLESS:
                raise StatusError(self._gauge, self.expected, data, self.says)
        number = 0
        for at in kind.number:
            number = 10 * number + digits[at]
        if kind.sign is not None and digits[kind.sign.at] & kind.sign.mask:
            number = -number
        inch = kind.inch is not None and bool(digits[kind.inch.at] & kind.inch.mask)
        if kind.inch is not None:
            self.shows = WireUnit.INCH if inch else WireUnit.MM
        if kind.point is not None:
            self.decimals = digits[kind.point]
        return round(Fraction(number, 10**self.decimals) * self._per_unit[inch])

    def index(self, data: bytes) -> bool:
        """Whether those bits are set."""
        bits = self._kind.index
        return bits is not None and self._digits(data)[bits.at] & bits.mask == bits.mask

    def write(self, value: int) -> bytes:
        """The data of a frame that shows `value`. Raises EncodeError where it does not fit."""
        kind = self._kind
        shown = WIDE.divide(Decimal(value), self._divisor)
        shown = shown.scaleb(kind.decimals, WIDE).quantize(Decimal(1), ROUND_HALF_EVEN, WIDE)
        number = int(abs(shown))
        if number >= 10 ** len(kind.number) or (shown < 0 and kind.sign is None):
            raise EncodeError(
                f"expected {len(kind.number)} digits and a sign if the gauge has one, got {shown}"
            )
        digits = dict.fromkeys(kind.free, 0) | {mark.at: mark.digit for mark in kind.marks}
        digits |= dict(zip(kind.number, map(int, f"{number:0{len(kind.number)}d}"), strict=True))
        if kind.point is not None:
            digits[kind.point] = kind.decimals
        digits |= {one.at: digits.get(one.at, 0) for one in kind.status}
        for bits, is_set in (
            (kind.sign, shown < 0),
            (kind.inch, kind.unit is WireUnit.INCH),
            (kind.index, False),
        ):
            if bits is not None:
                digits[bits.at] = digits.get(bits.at, 0) | (bits.mask if is_set else 0)
        return self._bytes([digits[at] for at in sorted(digits)])

    def _digits(self, data: bytes) -> list[int]:
        if self._kind.coding == "characters":
            return [byte & 0x0F for byte in data]
        halves = [half for byte in data for half in (byte >> 4, byte & 0x0F)]
        if self._kind.coding == "low-nibbles":
            halves[::2], halves[1::2] = halves[1::2], halves[::2]
        return [MIRRORED[half] for half in halves] if self._kind.coding == "mirrored" else halves

    def _bytes(self, digits: list[int]) -> bytes:
        if self._kind.coding == "characters":
            return bytes(CHARACTER | digit for digit in digits)
        pairs = zip(digits[::2], digits[1::2], strict=True)
        return bytes(paired(self._kind.coding, *pair) for pair in pairs)
