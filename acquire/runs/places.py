"""Which place each thickness reading is of."""

from __future__ import annotations

from collections.abc import Sequence

from acquire.journal.events import Event, Place, Resumed, Sample, SweepBegun, TypedThickness
from acquire.journal.typed import counting


def places_taken(begun: SweepBegun, events: Sequence[Event]) -> list[tuple[Place, int]]:
    """The thickness readings of a sweep, (place, nm), in order: a gauge's reading is for the first place
    that has none yet, a typed one for the place it names. A reading kept twice counts once."""
    taken: list[tuple[Place, int]] = []
    numbers: set[int] = set()
    for event in counting(events):
        if isinstance(event, Resumed):
            numbers.clear()  # the driver counts anew
        elif isinstance(event, TypedThickness):
            taken.append((event.place, event.value_nm))
        elif isinstance(event, Sample) and event.gauge == begun.gauge.id and event.reading not in numbers:
            numbers.add(event.reading)
            place = next_place(begun, [place for place, _ in taken])
            if place is not None:
                taken.append((place, event.value))
    return taken


def next_place(begun: SweepBegun, taken: Sequence[Place]) -> Place | None:
    """The first place in the method's order that has no reading yet; None when all have."""
    return next((place for place in begun.places if place not in taken), None)
