"""How frames are cut out of a stream of bytes, one model for each kind of framing.

Each says by `misfit` whether what a value writes can be told apart in it: a frame cut at the wrong
place must never read as a value.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, field_validator, model_validator

from config.profile.base import WIRE, Alphabets, Byte, Part, PositiveS, byte_text, kind_if_none
from config.profile.check import Check, wire_bytes

WHOLE = 0xFF
"""The mask of a start byte that is nothing but that."""
TELLING_BITS = 16
"""A check of so many bits tells by itself where a frame begins."""


class LineFraming(Part):
    """Frames that end in a terminator."""

    kind: Literal["line"] = "line"
    """Frames are lines."""
    terminator: Annotated[str, Field(min_length=1, max_length=8)]
    """What ends a frame, such as "\\r\\n"."""
    max_bytes: Annotated[int, Field(ge=1, le=4096)] = 64
    """The longest frame, its terminator not counted; longer ones are thrown away."""
    max_pause_s: PositiveS = 0.5
    """The longest pause within a frame; after more, what came before is half a frame."""

    @field_validator("terminator")
    @classmethod
    def _is_bytes(cls, value: str) -> str:
        return byte_text(value)

    @property
    def terminator_bytes(self) -> bytes:
        """The terminator as it stands on the wire."""
        return self.terminator.encode(WIRE)

    def misfit(self, alphabets: Alphabets | None) -> str | None:
        """What it should be for data of these alphabets (None: not known); None if it fits."""
        if alphabets is None:
            return None
        if len(alphabets) > self.max_bytes:
            return f"max_bytes of {len(alphabets)} or more, as its value has so many"
        if all(any(byte in some for some in alphabets) for byte in self.terminator_bytes):
            return "a terminator with a byte that the value never holds"
        return None


class FixedFraming(Part):
    """Frames of one length, found by how they begin, or by the pause before them."""

    kind: Literal["fixed"]
    """Frames are of one length."""
    length: Annotated[int, Field(strict=True, ge=2, le=256)]
    """Bytes of a frame, its start byte counted."""
    start_byte: Byte | None = None
    """What a frame begins with: a byte of which (byte & start_mask) is this, and no other byte of a frame may
    be. Without it a frame begins after a pause longer than max_pause_s, or where one was whole."""
    start_mask: Annotated[int, Field(strict=True, ge=1, le=255)] = WHOLE
    """Which bits of it are meant. They are not data: the first byte is handed on without them, and not at all
    where the mask is the whole byte."""
    max_pause_s: PositiveS = 0.5
    """The longest pause within a frame; after more, what came before is half a frame."""

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.start_byte is None:
            if "start_mask" in self.model_fields_set:
                raise ValueError("start_byte, as there is a start_mask")
            if "max_pause_s" not in self.model_fields_set:
                raise ValueError("start_byte, or max_pause_s: shorter than the pause between two frames")
        elif self.start_byte & ~self.start_mask:
            raise ValueError("a start_byte that has no bit outside start_mask")
        return self

    @property
    def data_bytes(self) -> int:
        """How much of a frame is data."""
        return self.length - (self.start_byte is not None and self.start_mask == WHOLE)

    def begins(self, byte: int) -> bool:
        """Whether this byte begins a frame."""
        return byte & self.start_mask == self.start_byte

    def misfit(self, alphabets: Alphabets | None) -> str | None:
        """What it should be for data of these alphabets (None: not known); None if it fits."""
        if alphabets is None:
            return None if self.start_byte is not None else "start_byte, as a pattern may fit a shifted frame"
        if len(alphabets) != self.data_bytes:
            wanted = len(alphabets) + self.length - self.data_bytes
            return f"a length of {wanted}, as its value has {len(alphabets)} bytes"
        first, *others = alphabets
        if self.start_byte is None:
            if not _told_apart(alphabets):
                return "start_byte, or a value that ends in a mark that stands nowhere else in it"
            return None
        if self.start_mask == WHOLE:
            others = [first, *others]
        elif any(byte & self.start_mask for byte in first):
            return "a start_mask of bits that the value does not use in the first byte"
        if any(self.begins(byte) for some in others for byte in some):
            return "a start_byte that no other byte of a frame can be"
        return None


def _told_apart(alphabets: Alphabets) -> bool:
    """Whether no window of frames one after another can be read but a whole one, nor one that a byte was lost
    of: at each shift some byte would stand where it cannot."""
    length = len(alphabets)
    return not alphabets[-1] & alphabets[0] and all(
        any(not alphabets[at] & alphabets[(at + by) % length] for at in range(length))
        for by in range(1, length)
    )


class CheckedFraming(Part):
    """Frames of one length that end in a check: what it holds for is a frame, whatever its bytes are."""

    kind: Literal["checked"]
    """Frames are of one length and end in a check."""
    length: Annotated[int, Field(strict=True, ge=2, le=256)]
    """Bytes of a frame, start byte and check counted."""
    start_byte: Byte | None = None
    """What a frame begins with; other bytes of it may be the same."""
    check: Check
    """What it ends in."""
    max_pause_s: PositiveS = 0.5
    """The longest pause within a frame; after more, what came before is half a frame. With an exclusive
    or, or a sum that undoes the bytes, a stream is read from such a pause on: they hold for a shifted frame
    as well."""

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.start_byte is None and self.check.bits < TELLING_BITS:
            wanted = f"start_byte, or a check of {TELLING_BITS} bits"
            raise ValueError(f"{wanted}: a shorter one holds for one shifted frame in 256")
        if self.check.is_of_a_ring and "max_pause_s" not in self.model_fields_set:
            raise ValueError("max_pause_s: shorter than the pause between two frames, which tells the first")
        if self.start_byte is None and self.check.covers == "frame":
            raise ValueError('a check that covers "data", as there is no start_byte')
        if self.data_bytes < 1:
            least = self.length - self.data_bytes + 1
            raise ValueError(f"a length of {least} or more, so that there is data")
        return self

    @property
    def check_bytes(self) -> int:
        """How many bytes the check has on the wire."""
        return wire_bytes(self.check)

    @property
    def data_bytes(self) -> int:
        """How much of a frame is data."""
        return self.length - self.check_bytes - (self.start_byte is not None)

    def misfit(self, alphabets: Alphabets | None) -> str | None:
        """What it should be for data of these alphabets (None: not known); None if it fits."""
        if alphabets is not None and len(alphabets) != self.data_bytes:
            wanted = len(alphabets) + self.length - self.data_bytes
            return f"a length of {wanted}, as its value has {len(alphabets)} bytes"
        return None


class PacketFraming(Part):
    """Frames that stand between the marks of RFC 1055, so that any byte may be in them: reports and transfers
    of USB, which are packets already, or a line that is marked so."""

    kind: Literal["packet"]
    """Frames are packets."""
    max_bytes: Annotated[int, Field(strict=True, ge=1, le=4096)] = 64
    """The longest packet, its marks not counted; longer ones are thrown away."""
    max_pause_s: PositiveS = 0.5
    """The longest pause within a packet; after more, what came before is half a one."""
    start_byte: Byte | None = None
    """What each packet begins with, where its check does not cover that byte; it is not data."""
    check: Check | None = None
    """What its data end in; a packet for which it does not hold is none."""
    behind: Annotated[int, Field(strict=True, ge=0, le=255)] = 0
    """Bytes behind the check that say nothing, as where reports are filled up."""

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.check is None and (self.behind or self.start_byte is not None):
            raise ValueError("a check, as there is a start_byte or something behind it")
        if self.check is not None and self.start_byte is None and self.check.covers == "frame":
            raise ValueError('a check that covers "data", as there is no start_byte')
        if self.max_bytes <= self.marks_bytes:
            raise ValueError(f"max_bytes of {self.marks_bytes + 1} or more, so that there is data")
        return self

    @property
    def marks_bytes(self) -> int:
        """How many bytes of a packet are no data."""
        checked = 0 if self.check is None else wire_bytes(self.check)
        return checked + self.behind + (self.start_byte is not None)

    def misfit(self, alphabets: Alphabets | None) -> str | None:
        """What it should be for data of these alphabets (None: not known); None if it fits."""
        if alphabets is not None and len(alphabets) + self.marks_bytes > self.max_bytes:
            wanted = len(alphabets) + self.marks_bytes
            return f"max_bytes of {wanted} or more, as its value has so many"
        return None


Framing = Annotated[
    LineFraming | FixedFraming | CheckedFraming | PacketFraming,
    Field(discriminator="kind"),
    kind_if_none("line"),
]
