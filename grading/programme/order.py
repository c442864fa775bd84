"""Which inspection came after which: by its bay's chain where that is known, as a wall clock may be wrong."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import accumulate

Lines = Mapping[str, Sequence[tuple[str, datetime]]]
"""Of each bay its inspections in the order in which they were opened, and when that was by its wall clock."""


@dataclass(frozen=True, slots=True)
class Place:
    """Of an inspection among those of its bay. line: whose; number: its place there. soonest, latest: between
    which moments it was opened, as those before and after it tell; where the clock never went back, both are
    the moment that it says."""

    line: str
    number: int
    soonest: datetime
    latest: datetime


def places_of(lines: Lines) -> dict[str, Place]:
    """The place of each inspection that has one, by its id."""
    return {name: place for line, those in lines.items() for name, place in _of_line(line, those)}


def _of_line(line: str, those: Sequence[tuple[str, datetime]]) -> Iterator[tuple[str, Place]]:
    moments = [moment for _, moment in those]
    latest = accumulate(moments, max)
    soonest = [*accumulate(reversed(moments), min)][::-1]
    for number, ((name, _), early, late) in enumerate(zip(those, soonest, latest, strict=True)):
        yield name, Place(line, number, early, late)


def is_after(moment: datetime, place: Place | None, other: datetime, other_place: Place | None) -> bool:
    """Whether one inspection was opened after another for sure: of one bay by its chain, else by clocks, as
    far as none of them is known to have been wrong."""
    if place is not None and other_place is not None and place.line == other_place.line:
        return place.number > other_place.number
    soonest = moment if place is None else place.soonest
    latest = other if other_place is None else other_place.latest
    return soonest > latest


def sorted_by(moment: datetime, place: Place | None, name: str) -> tuple[datetime, int, str]:
    """By what inspections are put into an order: of one bay never against its chain."""
    return (moment, 0, name) if place is None else (place.latest, place.number, name)


def contradicted(name: str, bays: str) -> str:
    """What is said of an inspection of which results were issued that contradict each other."""
    return (
        f"inspection {name} does not count: {bays} issued results of it that contradict each other, of which "
        "one is on record: look there, and inspect again under another name"
    )
