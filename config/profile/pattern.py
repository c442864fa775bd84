"""A number written as text."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Literal, Self

from pydantic import Field, field_validator, model_validator

from config.profile.base import WIRE, Alphabets, byte_text
from config.profile.number import Number, WireUnit
from config.profile.status import TextStatus


class Written:
    """A number as a gauge writes it. point: what it writes before the decimals."""

    def __init__(self, number: Decimal, point: str) -> None:
        self._number = number
        self._point = point

    def __format__(self, spec: str) -> str:
        # A power of ten has two figures at least, as C writes it; of a Decimal Python writes one.
        exact = format(self._number if spec[-1:] not in ("e", "E") else float(self._number), spec)
        return exact.replace(".", self._point)


class PatternValue(Number):
    """A number written as text: how it is taken out of a frame, and how one is written into it."""

    kind: Literal["pattern"] = "pattern"
    """It is text."""
    pattern: str
    """A regular expression that the whole frame must match, without its terminator; its group `value` holds
    the number (digits, at most one point, at most one leading sign, a power of ten as `E-01`). Groups that it
    may have: `sign` the sign where spaces stand between the two; `unit` the unit in force, see `units`;
    `status` what is said beside it, see `status`; `index` of an encoder: where it holds more than spaces and
    noughts, its index has come since the frame before."""
    template: str
    """The frame for a number, as a Python format of a decimal: `{:+09.3f}`, or with a power of ten
    `{:+.4E}`; `{unit}` where its unit stands."""
    point: Literal[".", ","] = "."
    """What stands before the decimals."""
    units: Mapping[str, WireUnit] = Field(default_factory=dict)
    """What the group `unit` holds and what that means, such as `{ mm = "mm", in = "in" }`; a frame with any
    other is no reading."""
    status: tuple[TextStatus, ...] = ()
    """What the gauge says of itself, in the group `status` or in place of a number."""

    @field_validator("pattern")
    @classmethod
    def _compiles(cls, value: str) -> str:
        try:
            compiled = re.compile(byte_text(value).encode(WIRE))
        except re.error as error:
            raise ValueError(f"a regular expression ({error})") from None
        if "value" not in compiled.groupindex:
            raise ValueError("a regular expression with a group (?P<value>…)")
        if strange := set(compiled.groupindex) - {"value", "sign", "unit", "status", "index"}:
            raise ValueError(f"no groups but value, sign, unit, status and index, not {min(strange)}")
        return value

    @field_validator("template")
    @classmethod
    def _formats(cls, value: str) -> str:
        try:
            byte_text(value.format(Decimal(1), unit=""))
        except (ValueError, IndexError, KeyError, AttributeError, TypeError):
            raise ValueError("a format of one decimal number such as {:+09.3f}") from None
        return value

    @model_validator(mode="after")
    def _agree(self) -> Self:
        compiled = re.compile(self.pattern.encode(WIRE))
        if ("unit" in compiled.groupindex) != bool(self.units):
            raise ValueError("a group (?P<unit>…) and units, or neither")
        if self.units and self.unit not in self.units.values():
            raise ValueError(f"units with one that means {self.unit}, as that is its unit")
        if not set(self.units.values()) <= {WireUnit.MM, WireUnit.INCH}:
            raise ValueError('units that mean "mm" or "in"')
        if "status" in compiled.groupindex and not self.status:
            raise ValueError("status, as there is a group (?P<status>…)")
        sample = self.frame(Decimal(1)).encode(WIRE)
        if compiled.fullmatch(sample) is None:
            raise ValueError(f"a template that the pattern accepts ({sample!r} does not match)")
        return self

    def frame(self, number: Decimal) -> str:
        """The frame for a number in `unit`."""
        unit = next((text for text, means in self.units.items() if means is self.unit), "")
        return self.template.format(Written(number, self.point), unit=unit)

    @property
    def has_power(self) -> bool:
        """Whether it is written with a power of ten."""
        return re.search(r":[^{}]*[eE]\}", self.template) is not None

    @property
    def shown_decimals(self) -> int:
        """How many decimals a frame shows; of one with a power of ten, those of its first figures."""
        sample = self.template.format(Decimal(0), unit="")
        after = sample.rpartition(".")[2]
        return len(after) - len(after.lstrip("0123456789")) if "." in sample else 0

    @property
    def alphabets(self) -> Alphabets | None:
        """None: a pattern does not tell."""
        return None
