"""Which sweep an event is of, where several run side by side. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from acquire.journal.events import (
    Event,
    GaugeAway,
    GaugeBack,
    IndexPassed,
    Sample,
    SweepBegun,
    SweepEnded,
    TypedRunout,
)
from contract.terms import TYPED


def concerns(begun: SweepBegun, event: Event) -> bool:
    """Whether an event within a sweep is of it: what its own instruments give, and what is told of the crank.

    A reading, or an end, that names no sweep is of the only one that runs.
    """
    match event:
        case Sample() | SweepEnded():
            return event.sweep in (0, begun.seq)
        case GaugeAway() | GaugeBack() | IndexPassed():
            return event.gauge in (begun.gauge.id, begun.angle.gauge)
        case TypedRunout():
            return begun.gauge.id == TYPED
        case _:
            return True


def end_of(begun: SweepBegun, events: Iterable[Event]) -> int | None:
    """The seq of a sweep's end among an inspection's events, in journal order; None while it runs."""
    ends = (event.seq for event in events if isinstance(event, SweepEnded) and concerns(begun, event))
    return next((seq for seq in ends if seq > begun.seq), None)
