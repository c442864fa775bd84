"""How a number stands in a frame, one model for each kind of value."""

from __future__ import annotations

from itertools import combinations, product
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from config.profile.base import Alphabets, Byte, Part, kind_if_none
from config.profile.number import Number, WireUnit
from config.profile.pattern import PatternValue
from config.profile.status import BitStatus, ByteStatus

CHARACTER = 0x30
"""A digit's 7-bit character is this and the digit: `0` is 0x30, `9` 0x39, and 15 is `?`."""

Place = Annotated[int, Field(strict=True, ge=0, le=511)]
Digit = Annotated[int, Field(strict=True, ge=0, le=15)]


class Bits(Part):
    """Bits of one digit; set where all of `mask` are."""

    at: Place
    """The digit's place."""
    mask: Annotated[int, Field(strict=True, ge=1, le=15)]
    """Which bits of it."""


class Mark(Part):
    """A place that always holds the same digit."""

    at: Place
    """Which place."""
    digit: Digit
    """What it holds."""


class ByteMark(Part):
    """A byte that is always the same."""

    at: Annotated[int, Field(strict=True, ge=0, le=63)]
    """Which one."""
    byte: Byte
    """What it is."""


class ByteBits(Part):
    """Bits of one byte; set where all of `mask` are."""

    at: Annotated[int, Field(strict=True, ge=0, le=63)]
    """Which one."""
    mask: Annotated[int, Field(strict=True, ge=1, le=255)]
    """Which bits of it."""


class DigitsValue(Number):
    """A number given digit by digit. Places are counted from 0; each must be spoken for once."""

    kind: Literal["digits"]
    """It is digits at stated places."""
    coding: Literal["nibbles", "low-nibbles", "mirrored", "characters"]
    """Two digits to a byte, the first in its upper half, or in its lower one; two to a byte, each of its four
    bits in the other order, as where a burst that is sent lowest bit first was packed highest first; or each
    a byte."""
    number: Annotated[tuple[Place, ...], Field(min_length=1, max_length=18)]
    """The places of its digits, the highest first."""
    decimals: Annotated[int, Field(strict=True, ge=0, le=9)]
    """How many digits stand after the point; where `point` names a place, what the gauge shows as a rule."""
    point: Place | None = None
    """The place whose digit says how many stand after the point."""
    sign: Bits | None = None
    """Bits that say "negative"."""
    inch: Bits | None = None
    """Bits that say "inches"; only with `point`, as inches have other decimals. They may share a place with
    `sign`; a bit of it that is neither makes a frame invalid."""
    index: Bits | None = None
    """Bits that say of an encoder that its index has come since the frame before; at a place of their own."""
    marks: tuple[Mark, ...] = ()
    """Places that always hold the same digit."""
    free: tuple[Place, ...] = ()
    """Places that say nothing of the value."""
    status: tuple[BitStatus, ...] = ()
    """Bits by which the gauge says how it stands; they may share a place with each other and with those of
    sign and inch."""

    @model_validator(mode="after")
    def _agree(self) -> Self:
        bits = [(b.at, b.mask) for b in (self.sign, self.inch, self.index, *self.status) if b is not None]
        single = [*self.number, *(mark.at for mark in self.marks), *self.free, *{at for at, _ in bits}]
        single += [] if self.point is None else [self.point]
        if sorted(single) != list(range(len(single))):
            raise ValueError(f"each place from 0 to {max(single)} spoken for once, not {sorted(single)}")
        if self.coding != "characters" and len(single) % 2:
            raise ValueError(f"an even number of places, as two make a byte, not {len(single)}")
        if any(one[0] == other[0] and one[1] & other[1] for one, other in combinations(bits, 2)):
            raise ValueError("bits of their own for sign, inch and each status")
        if self.decimals > len(self.number):
            raise ValueError(f"at most {len(self.number)} decimals, as the number has so many digits")
        if self.inch is not None and self.point is None:
            raise ValueError("point, as inches are shown with other decimals; or no inch")
        if self.inch is not None and self.unit not in (WireUnit.MM, WireUnit.INCH):
            raise ValueError('no inch, or unit = "mm" or "in"')
        return self

    @property
    def shown_decimals(self) -> int:
        """How many decimals a frame shows as a rule."""
        return self.decimals

    @property
    def digits(self) -> tuple[frozenset[int], ...]:
        """For each place every digit that may stand there."""
        may = dict.fromkeys(self.number, frozenset(range(10))) | dict.fromkeys(
            self.free, frozenset(range(16))
        )
        may |= {mark.at: frozenset({mark.digit}) for mark in self.marks}
        if self.point is not None:
            may[self.point] = frozenset(range(min(len(self.number), 9) + 1))
        for bits in (self.sign, self.inch, self.index, *self.status):
            if bits is not None:
                may[bits.at] = may.get(bits.at, frozenset({0}))
                may[bits.at] |= {digit | bits.mask for digit in may[bits.at]}
        return tuple(may[at] for at in sorted(may))

    @property
    def alphabets(self) -> Alphabets:
        """For each byte what may stand there."""
        digits = self.digits
        if self.coding == "characters":
            return tuple(frozenset(CHARACTER | digit for digit in some) for some in digits)
        pairs = zip(digits[::2], digits[1::2], strict=True)
        return tuple(frozenset(paired(self.coding, *two) for two in product(*pair)) for pair in pairs)


MIRRORED = tuple(int(f"{digit:04b}"[::-1], 2) for digit in range(16))
"""Of each digit the one whose four bits are the same in the other order."""


def paired(coding: str, first: int, second: int) -> int:
    """The byte that holds two digits."""
    if coding == "mirrored":
        return MIRRORED[first] << 4 | MIRRORED[second]
    return second << 4 | first if coding == "low-nibbles" else first << 4 | second


class IntegerValue(Number):
    """A number in two's complement or without a sign, as whole bytes."""

    kind: Literal["integer"]
    """It is a whole number in binary."""
    length: Annotated[int, Field(strict=True, ge=1, le=64)]
    """Bytes of data in a frame."""
    at: Annotated[int, Field(strict=True, ge=0, le=63)] = 0
    """The number's first byte, counted from 0."""
    size: Annotated[int, Field(strict=True, ge=1, le=8)]
    """How many bytes it has."""
    order: Literal["high-first", "low-first"]
    """Which of them comes first."""
    signed: bool = True
    """Two's complement; else never below nought."""
    decimals: Annotated[int, Field(strict=True, ge=0, le=9)] = 0
    """The number's last so many digits stand after the point."""
    index: ByteBits | None = None
    """Bits that say of an encoder that its index has come since the frame before."""
    marks: tuple[ByteMark, ...] = ()
    """Bytes that always are the same; those that nothing is said of may be any."""
    status: tuple[ByteStatus, ...] = ()
    """Bits of other bytes by which the gauge says how it stands."""

    @model_validator(mode="after")
    def _agree(self) -> Self:
        own = range(self.at, self.at + self.size)
        marked = [*(mark.at for mark in self.marks), *{some.at for some in self.status}]
        marked += [] if self.index is None else [self.index.at]
        if own.stop > self.length or any(at >= self.length for at in marked):
            raise ValueError(f"places below its length, {self.length}")
        if len({*own, *marked}) < len(own) + len(marked):
            raise ValueError("each byte for one thing")
        return self

    @property
    def shown_decimals(self) -> int:
        """How many decimals a frame shows."""
        return self.decimals

    @property
    def alphabets(self) -> Alphabets:
        """For each byte what may stand there."""
        may = [frozenset(range(256))] * self.length
        for mark in self.marks:
            may[mark.at] = frozenset({mark.byte})
        return tuple(may)


Value = Annotated[
    PatternValue | DigitsValue | IntegerValue, Field(discriminator="kind"), kind_if_none("pattern")
]
