"""One value from one instrument, with its time."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

NM_PER_MM = 1_000_000
NM_PER_INCH = 25_400_000
"""Exactly: international yard and pound agreement, 1959."""
UDEG_PER_DEG = 1_000_000


class Unit(StrEnum):
    """The whole unit in which a reading's value is kept."""

    NM = "nm"
    UDEG = "udeg"
    COUNT = "count"


@dataclass(frozen=True, slots=True)
class Reading:
    """One value, exact, as the instrument sent it.

    gauge: the instrument's id in the configuration.
    seq: counts up per gauge since the daemon started. Frames that were rejected or lost on the way
    take a number too, so a number missing between two readings is a loss between them.
    time_ns: monotonic, when the last byte of the frame arrived, less the stated latency.
    value: a whole number of `unit`; plunger in is positive.
    u_ns: standard uncertainty of time_ns beyond that of the latency: 0 where it was read as it came.
    """

    gauge: str
    seq: int
    time_ns: int
    value: int
    unit: Unit
    u_ns: int = 0
