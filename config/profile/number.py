"""What all numbers on a wire have."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from typing import Annotated

from pydantic import Field, field_validator

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

    @field_validator("scale")
    @classmethod
    def _not_nought(cls, value: Decimal) -> Decimal:
        if not value:
            raise ValueError("a number other than 0")
        return value
