"""What all numbers on a wire have."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Self

from pydantic import Field, field_validator, model_validator

from config.profile.base import Part


class WireUnit(StrEnum):
    """The unit of the number on the wire."""

    MM = "mm"
    INCH = "in"
    DEG = "deg"
    COUNT = "count"


class Number(Part):
    """What all of them have."""

    unit: WireUnit
    """The unit of the number; where bits of it say inches, the one that the gauge shows as a rule."""
    scale: Annotated[Decimal, Field(allow_inf_nan=False)] = Decimal(1)
    """The number times this is in `unit`; negative where plunger in counts down."""

    modulus: Annotated[int, Field(strict=True, gt=1, le=2**62)] | None = None
    """Of a counter: how many counts it has, after which it begins anew (65536 of one with 16 bits); left out:
    it begins anew at each turn of the encoder, or never."""

    @model_validator(mode="after")
    def _counts(self) -> Self:
        if self.modulus is not None and self.unit is not WireUnit.COUNT:
            raise ValueError('no modulus, or unit = "count"')
        return self

    @field_validator("scale")
    @classmethod
    def _not_nought(cls, value: Decimal) -> Decimal:
        if not value:
            raise ValueError("a number other than 0")
        return value
