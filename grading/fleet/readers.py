"""The figures of a fleet as comparisons take them: by bay, or by gauge."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from grading.fleet.effects import Fitted, compared
from grading.fleet.looked import Looked
from grading.fleet.model import Seen
from grading.programme.series import MEASURED, UNITS, Visit, counted_by
from grading.programme.trend import standard_u_mm
from grading.statistics.multiple import holm

By = Literal["bay", "gauge"]
ACTED_ON = 0.05
"""From this chance down, adjusted for all comparisons made at once, a reader is said to read high or low."""
SHARED_LEAST = 3
"""Dampers that it must have shared: one or two may have been knocked between two readings, and the model
knows no such step. Our own choice, no source."""


def compare(looked: Iterable[Looked], by: By) -> dict[str, Fitted]:
    """Each check that was measured, with all its readers. What was abandoned before it was closed does not
    count, nor an invalid check. What was closed does, given up since or not: of a bay that gives up those in
    which it read high there would be only those left in which it did not."""
    told: dict[str, dict[str, list[tuple[str, Visit]]]] = {check: {} for check in MEASURED}
    for one in sorted(looked, key=lambda one: one.opened):
        if one.is_given_up and not one.was_closed:
            continue
        for check, visit in one.visits.items():
            if visit.figure_mm is not None and visit.u_expanded_mm is not None:
                told[check].setdefault(one.damper, []).append((_reader(one, visit, by), visit))
    return {check: compared(list(_seen(dampers))) for check, dampers in told.items() if dampers}


def adjusted(found: dict[str, Fitted]) -> dict[tuple[str, str], float]:
    """The chance of each (check, reader) that was compared, adjusted for all of them."""
    asked = {
        (check, effect.reader): effect.chance
        for check, fitted in found.items()
        for effect in fitted.effects
        if effect.chance is not None
    }
    return dict(zip(asked, holm(list(asked.values())), strict=True))


def _reader(one: Looked, visit: Visit, by: By) -> str:
    bay = f"{one.site}/{one.bay}"
    return bay if by == "bay" else f"{bay} {visit.gauge or '?'}"


def _seen(dampers: dict[str, list[tuple[str, Visit]]]) -> Iterable[Seen]:
    for damper, those in dampers.items():
        count, _ = counted_by([visit for _, visit in those])
        for reader, visit in those:
            yield Seen(
                damper,
                reader,
                (visit.counter(count) or 0.0) / UNITS[count],
                visit.figure_mm or 0.0,
                standard_u_mm(visit.u_expanded_mm or 0.0, visit.coverage),
            )
