"""What a gauge says of itself, beside a number or in place of one, one model for each kind of value."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import Field, field_validator

from config.profile.base import WIRE, Byte, Part, byte_text

Says = Literal["battery-low", "error", "off-scale", "hold", "other"]
"""What it may say. `other`: the frame is another channel's, and neither a reading nor lost."""


class _Status(Part):
    """What all have."""

    means: Says
    """What it says: `battery-low` leaves a reading beside it good, the others do not. `hold`: its display
    stands still. `other`: the frame is another channel's."""


class TextStatus(_Status):
    """Words."""

    pattern: str
    """A regular expression for the whole of the group `status`, or for a whole frame that is no number."""

    @field_validator("pattern")
    @classmethod
    def _compiles(cls, value: str) -> str:
        try:
            re.compile(byte_text(value).encode(WIRE))
        except re.error as error:
            raise ValueError(f"a regular expression ({error})") from None
        return value


class BitStatus(_Status):
    """Bits of a digit; it is said where all of `mask` are set."""

    at: Annotated[int, Field(strict=True, ge=0, le=511)]
    """The digit's place."""
    mask: Annotated[int, Field(strict=True, ge=1, le=15)]
    """Which bits of it."""


class ByteStatus(_Status):
    """Bits of a byte; it is said where all of `mask` are set."""

    at: Annotated[int, Field(strict=True, ge=0, le=63)]
    """Which byte."""
    mask: Annotated[Byte, Field(ge=1)]
    """Which bits of it."""
