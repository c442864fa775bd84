"""What a person types, with its corrections: the old reading stays on record, the new one counts. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeVar

from acquire.journal.events import Event, TypedLift, TypedRunout, TypedThickness

TypedReading = TypedRunout | TypedThickness | TypedLift
E = TypeVar("E", bound=Event)
T = TypeVar("T", TypedRunout, TypedThickness, TypedLift)


def counting(events: Sequence[E]) -> Sequence[E]:
    """The events with every correction in the place of the reading that it replaces."""
    if not any(isinstance(event, TypedReading) and event.replaces for event in events):
        return events
    counted: list[E] = []
    places: dict[int, int] = {}
    for event in events:
        if isinstance(event, TypedReading):
            place = places.get(event.replaces)
            if place is not None:
                counted[place] = event
                continue
            places[event.seq] = len(counted)
        counted.append(event)
    return counted


def latest(events: Iterable[T]) -> tuple[T, int] | None:
    """The reading that counts of those of one place, and what a correction of it replaces: always the
    first that was typed, so that corrections of corrections form no chain."""
    found = list(events)
    return (found[-1], found[-1].replaces or found[-1].seq) if found else None
