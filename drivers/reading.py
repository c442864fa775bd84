"""One value from one instrument, with its time."""

from __future__ import annotations

from dataclasses import dataclass

from contract.units import Unit


@dataclass(frozen=True, slots=True)
class Reading:
    """One value, exact, as the instrument sent it.

    gauge: the instrument's id in the configuration.
    seq: counts up per gauge since the daemon started. Frames that were rejected or lost on the way
    take a number too, so a number missing between two readings is a loss between them.
    time_ns: monotonic, when the last byte of the frame arrived, less the stated latency.
    value: a whole number of `unit`; plunger in is positive.
    u_ns: standard uncertainty of time_ns beyond that of the latency: 0 where it was read as it came.
    index: it is an encoder's, and says that its index has come since the one before.
    """

    gauge: str
    seq: int
    time_ns: int
    value: int
    unit: Unit
    u_ns: int = 0
    index: bool = False
