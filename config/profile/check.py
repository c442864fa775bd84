"""What stands at the end of a frame to show that it came whole, one model for each kind of check."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from config.profile.base import Part

Word = Annotated[int, Field(strict=True, ge=0, le=0xFFFF_FFFF)]


class _Check(Part):
    """What all checks have."""

    covers: Literal["data", "frame"] = "data"
    """Over the data alone, or over the start byte as well."""
    order: Literal["high-first", "low-first"] = "high-first"
    """Which of its bytes comes first."""
    form: Literal["bytes", "hex"] = "bytes"
    """As it is, or written in hexadecimal digits, two to a byte."""

    @property
    def is_of_a_ring(self) -> bool:
        """Whether it holds for a frame wherever that is begun, as long as the same frame comes again."""
        return False


class SumCheck(_Check):
    """The sum of all bytes."""

    kind: Literal["sum"]
    """It is a sum."""
    bits: Literal[8, 16] = 8
    """How many of its bits are sent, the lowest."""
    negated: bool = False
    """It is sent so that it and the bytes add up to nought."""

    @property
    def is_of_a_ring(self) -> bool:
        """All bytes add up to nought, in whatever order: one byte long, as two change places."""
        return self.negated and self.bits == 8 and self.form == "bytes"


class XorCheck(_Check):
    """All bytes, each with the next, by exclusive or."""

    kind: Literal["xor"]
    """It is an exclusive or."""
    bits: Literal[8] = 8
    """Always one byte."""

    @property
    def is_of_a_ring(self) -> bool:
        """All bytes fold to nought, in whatever order."""
        return self.form == "bytes"


class CrcCheck(_Check):
    """A cyclic redundancy check, by the parameters under which catalogues list it."""

    kind: Literal["crc"]
    """It is a CRC."""
    bits: Literal[8, 16, 32]
    """Its width."""
    polynomial: Word
    """Without its highest term, that of the width."""
    initial: Word = 0
    """What the register holds before the first byte."""
    reflected: bool = False
    """Each byte lowest bit first, and the register likewise (refin and refout)."""
    final_xor: Word = 0
    """What the register is combined with at the end."""

    @model_validator(mode="after")
    def _fits(self) -> Self:
        for name in ("polynomial", "initial", "final_xor"):
            if getattr(self, name) >> self.bits:
                raise ValueError(f"{name} of at most {self.bits} bits")
        return self


Check = Annotated[SumCheck | XorCheck | CrcCheck, Field(discriminator="kind")]


def wire_bytes(check: Check) -> int:
    """How many bytes it has on the wire."""
    return check.bits // 8 * (2 if check.form == "hex" else 1)
