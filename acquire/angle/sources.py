"""Which source of the crank's angle a sweep has."""

from __future__ import annotations

from acquire.angle.dwells import Dwells
from acquire.angle.encoder import Encoder
from acquire.angle.marks import Marks
from acquire.angle.source import AngleSource
from acquire.journal.events import SweepBegun


def time_u_ns(begun: SweepBegun) -> float:
    """What the latencies of a sweep's gauge and of its angles leave uncertain of their times, together."""
    return float((begun.gauge.latency_u_ns**2 + begun.angle.latency_u_ns**2) ** 0.5)


def source_of(begun: SweepBegun) -> AngleSource:
    """As the sweep's beginning states it; what is typed comes with its angles, as marks do."""
    if begun.angle.source == "encoder":
        return Encoder(begun.angle, time_u_ns(begun))
    if begun.angle.source == "dwells":
        return Dwells(begun.angle, time_u_ns(begun), begun.gauge.resolution_nm)
    return Marks(begun.angle, time_u_ns(begun), begun.gauge.resolution_nm)
