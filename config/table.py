"""What every table of a method is made of: strict values, and a model that knows its keys."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

# Strict: a number, not a string or a truth value that could pass for one; never NaN or infinite.
Positive = Annotated[float, Field(strict=True, gt=0.0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(strict=True, ge=0.0, allow_inf_nan=False)]
Limit = Annotated[float, Field(strict=True, gt=0.0, le=5.0, allow_inf_nan=False)]
"""A length in mm; more is another unit, or a lost point."""
GaugeStep = Annotated[float, Field(strict=True, ge=1e-6, le=1.0, allow_inf_nan=False)]
"""One step of a display, mm: below a nanometre nothing is kept, above a millimetre no damper is judged."""
GaugeError = Annotated[float, Field(strict=True, ge=0.0, le=1.0, allow_inf_nan=False)]
"""Maximum permissible error of a gauge, mm."""
Days = Annotated[int, Field(strict=True, ge=1, le=36_500)]
"""A hundred years at most."""
Finite = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Share = Annotated[float, Field(strict=True, ge=0.0, lt=1.0)]
Count = Annotated[int, Field(strict=True, ge=1)]
Angle = Annotated[float, Field(strict=True, ge=0.0, lt=360.0, allow_inf_nan=False)]
Name = Annotated[str, Field(min_length=1, max_length=64, pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]*$")]
Text = Annotated[str, Field(min_length=1, max_length=300)]

REASON = "{reason}"
"""Where the reason itself stands in words of one's own."""


def _holds_the_reason(text: str) -> str:
    if REASON not in text:
        raise ValueError(f"words with {REASON} in them, where the reason itself stands")
    return text


Wording = Annotated[Text, AfterValidator(_holds_the_reason)]


class Table(BaseModel):
    """One table of the file: unknown keys are mistakes, and nothing changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)
