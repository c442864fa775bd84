"""Typed readings that are, one by one, those of another inspection: copied, or a rare chance.

What a gauge sends has its noise and its times; what a person types has neither, and may have been read off
the sheet of the last service.
"""

from __future__ import annotations

from collections.abc import Iterator

from acquire.bay.inspection import InspectionState, Take, fold
from acquire.errors import FoldError
from acquire.journal.events import TypedRunout, TypedThickness
from acquire.journal.typed import counting
from acquire.journal.writer import Journal

LOOK_BACK = 30
"""Inspections before this one that are looked through."""
REPEATS_MM = 0.002
"""How well a hand repeats a reading, standard deviation; common practice, no source."""
CHANCE = 0.02
"""Where it is likelier than this by chance nothing is said; our own choice, as it is a remark only."""

Typed = tuple[tuple[int, ...], ...]


def copied(journal: Journal, state: InspectionState) -> tuple[tuple[str, str], ...]:
    """The checks whose typed readings are those of an inspection before this, and of which, the latest."""
    own = dict(_typed(state))
    if not own:
        return ()
    found: dict[str, str] = {}
    names = journal.inspections()
    before = names[: names.index(state.id)] if state.id in names else names
    for name in reversed(before[-LOOK_BACK:]):
        try:
            other = fold(journal.read(name, samples=False))
        except FoldError:  # told elsewhere
            continue
        found |= {
            check: name for check, read in _typed(other) if own.get(check) == read and check not in found
        }
    return tuple(found.items())


def _typed(state: InspectionState) -> Iterator[tuple[str, Typed]]:
    """What was typed of each check, in the order of its places, where that is no chance; the last take of
    each check comes last."""
    for take in state.finished:
        if not isinstance(take, Take):
            continue
        events = [one for one in counting(take.events) if isinstance(one, (TypedRunout, TypedThickness))]
        read = tuple(sorted((*_place(one), one.value_nm) for one in events))
        if read and _by_chance(len(read), take.begun.gauge.resolution_mm) < CHANCE:
            yield take.begun.check, read


def _place(event: TypedRunout | TypedThickness) -> tuple[int, ...]:
    if isinstance(event, TypedRunout):
        return (event.angle_udeg,)
    return (event.place.station_udeg, *event.place.radius.encode())


def _by_chance(readings: int, step_mm: float) -> float:
    """How often as many readings, taken anew, all show the same step: one that lies anywhere in its step and
    moves by |d| leaves it with |d| / step, and |d| of two normal ones is 2 / sqrt(pi) of their deviation."""
    leaves = min(0.7, 1.128 * REPEATS_MM / step_mm)
    return float((1.0 - leaves) ** readings)
