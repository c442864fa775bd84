"""What every part of a profile stands on: bytes as text, and kinds that need not be given."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

WIRE = "latin-1"
"""Text in a profile stands for bytes one to one, so that `\\u0002` is the byte 0x02."""

PositiveS = Annotated[float, Field(gt=0, le=3600, allow_inf_nan=False)]
Byte = Annotated[int, Field(strict=True, ge=0, le=255)]
Alphabets = tuple[frozenset[int], ...]
"""For each byte of a frame's data, in order, every byte that may stand there."""


class Part(BaseModel):
    """A table of the file: unknown keys are mistakes."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


def byte_text(value: str) -> str:
    """The text, if every character of it is one byte. Raises ValueError."""
    try:
        value.encode(WIRE)
    except UnicodeEncodeError:
        raise ValueError("characters that are single bytes (up to \\u00ff)") from None
    return value


def kind_if_none(kind: str) -> BeforeValidator:
    """A table without `kind` is of this one: files of before there were others stay as they are."""

    def given(table: Any) -> Any:
        return {"kind": kind, **table} if isinstance(table, dict) else table

    return BeforeValidator(given)
