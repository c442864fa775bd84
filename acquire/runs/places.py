"""Which place each thickness reading is of."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from acquire.journal.events import ZERO, Event, Place, Resumed, Sample, SweepBegun, TypedThickness
from acquire.journal.typed import counting
from contract.units import NM_PER_MM, UDEG_PER_DEG

if TYPE_CHECKING:
    from contract.gauge import GaugeFacts
    from grading.evidence import Thickness, ThicknessReading

ZERO_REACH_NM = NM_PER_MM
"""No casing is thinner than this, and no sound micrometer's zero so far off; our own choice."""


def places_taken(begun: SweepBegun, events: Sequence[Event]) -> list[tuple[Place | None, int]]:
    """The thickness readings of a sweep, (place, nm), in order: a gauge's reading is for the first place
    that has none yet, a typed one for the place it names; None: all have one. A reading kept twice counts
    once."""
    taken: list[tuple[Place | None, int]] = []
    numbers: set[int] = set()
    for event in counting(events):
        if isinstance(event, Resumed):
            numbers.clear()  # the driver counts anew
        elif isinstance(event, TypedThickness):
            taken.append((event.place, event.value_nm))
        elif isinstance(event, Sample) and event.gauge == begun.gauge.id and event.reading not in numbers:
            numbers.add(event.reading)
            before = [place for place, _ in taken if place is not None]
            taken.append((place_of(begun, before, event.value), event.value))
    return taken


def lost_among(begun: SweepBegun, events: Sequence[Event]) -> int:
    """How many readings of the sweep's gauge the holes in its numbering say were lost between others: keys
    that were pressed and reached nobody, or what noise on the line was taken for."""
    lost, last = 0, None
    for event in events:
        if isinstance(event, Resumed):
            last = None  # the driver counts anew
        elif isinstance(event, Sample) and event.gauge == begun.gauge.id:
            if last is not None:
                lost += max(0, event.reading - last - 1)
            last = event.reading if last is None else max(last, event.reading)
    return lost


def thickness_of(found: Sequence[tuple[Place | None, int]], gauge: GaugeFacts) -> Thickness:
    """As it is graded: the casing's readings, and the zero before the first and after the last of them. One
    read between counts as well: the scale may have moved there, and been set back."""
    from grading.evidence import Thickness, ThicknessReading  # heavy: see acquire.bay.evidence

    taken = [(place, nm) for place, nm in found if place is not None]
    on_casing = [number for number, (place, _) in enumerate(taken) if place != ZERO]
    first, last = (on_casing[0], on_casing[-1]) if on_casing else (len(taken), -1)
    before = [nm for place, nm in taken[:first] if place == ZERO]
    after = [nm for place, nm in taken[last + 1 :] if place == ZERO]
    readings = (
        ThicknessReading(place.station_udeg / UDEG_PER_DEG, place.radius, nm)
        for place, nm in taken
        if place.radius != "zero"
    )
    return Thickness(
        tuple(readings),
        gauge,
        zero_asked=True,
        zero_before_nm=before[-1] if before else None,
        zero_after_nm=after[-1] if after else None,
        zero_between_nm=tuple(nm for place, nm in taken[first : last + 1] if place == ZERO)
        + tuple(after[:-1]),
        beyond_nm=tuple(nm for place, nm in found if place is None),
    )


def typed_beside(begun: SweepBegun, events: Sequence[Event]) -> tuple[GaugeFacts, ...]:
    """What is assumed of micrometers that were read by eye and typed beside the sweep's own gauge."""
    typed = (event.gauge for event in counting(events) if isinstance(event, TypedThickness))
    return tuple(dict.fromkeys(gauge for gauge in typed if gauge.id != begun.gauge.id))


def put_right(events: Sequence[Event]) -> tuple[ThicknessReading, ...]:
    """What was typed at a place of the casing and counts no more, as it was corrected."""
    from grading.evidence import ThicknessReading  # heavy: see acquire.bay.evidence

    kept = {event.seq for event in counting(events)}
    return tuple(
        ThicknessReading(event.place.station_udeg / UDEG_PER_DEG, event.place.radius, event.value_nm)
        for event in events
        if isinstance(event, TypedThickness) and event.seq not in kept and event.place.radius != "zero"
    )


def next_place(begun: SweepBegun, taken: Sequence[Place]) -> Place | None:
    """Where the next reading is to be taken: the zero first and last, where it is asked for, and the casing's
    places in the method's order between; None when all have one."""
    casing = [place for place in begun.places if place != ZERO]
    has_zero = len(casing) < len(begun.places)
    if has_zero and not taken:
        return ZERO
    left = next((place for place in casing if place not in taken), None)
    if left is None and has_zero and taken[-1] != ZERO:
        return ZERO
    return left


def place_of(begun: SweepBegun, taken: Sequence[Place], value_nm: int) -> Place | None:
    """Where a reading of the gauge was taken: at the next place, but that a casing is no zero, nor a closed
    micrometer a casing. None: at none, all have one."""
    following = next_place(begun, taken)
    if begun.zero_at_nm is None:
        return following
    is_zero = abs(value_nm - begun.zero_at_nm) <= ZERO_REACH_NM
    if is_zero and (following == ZERO or begun.zero_at_nm == 0):
        return ZERO
    if following == ZERO and not is_zero:
        return next((place for place in begun.places if place not in (ZERO, *taken)), None)
    return following
