"""Units in which values are kept, exactly, and the names under which they are told."""

from __future__ import annotations

import re
from enum import StrEnum

NM_PER_MM = 1_000_000
NM_PER_INCH = 25_400_000
"""Exactly: international yard and pound agreement, 1959."""
UDEG_PER_DEG = 1_000_000

THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(?:[.,]\d{3})+", re.ASCII)
"""A number that is one thing where the mark parts thousands and another where it stands before decimals."""


class Unit(StrEnum):
    """The whole unit in which a reading's value is kept."""

    NM = "nm"
    UDEG = "udeg"
    COUNT = "count"


def value_field(value: int, unit: Unit) -> tuple[str, float | int]:
    """A value under its public name: `value_mm`, `value_deg` or `count`; exact to the last digit."""
    if unit is Unit.NM:
        return "value_mm", value / NM_PER_MM
    if unit is Unit.UDEG:
        return "value_deg", value / UDEG_PER_DEG
    return "count", value
