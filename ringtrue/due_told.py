"""What is due, and how each damper stands, as plain data for the pages of a display."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING

from config.errors import RingtrueError
from contract.serials import bare
from display.web.recorded import DueTold, FleetRow, PartTold
from grading.programme.base import base_of
from grading.programme.past import is_found
from grading.programme.record import EngineRecord, Inspected
from ringtrue.due_words import by_words, day_of, part_words
from ringtrue.history_told import latest_first, looked_told, visit_told

if TYPE_CHECKING:
    from grading.programme.due import Due, Part
    from ringtrue.dues import OnRecord


def due_told(due: Due, today: date) -> DueTold:
    """One engine."""
    day, is_predicted = day_of(due)
    forward, kept = due.record.forward, due.base.inspection
    is_forward = forward is not None and kept is not None and kept.id == forward.inspection
    return DueTold(
        engine=due.record.engine,
        fleet=due.record.fleet,
        damper=due.base.damper,
        state=due.state,
        day=day,
        predicted=is_predicted,
        by=by_words(due),
        drifting=forward.why if forward is not None and is_forward else None,
        parts=tuple(_part(part, today) for part in due.parts),
        sentences=due.sentences,
    )


def _part(part: Part, today: date) -> PartTold:
    return PartTold(
        by=part.by,
        state=part.state,
        day=part.day,
        predicted=part.is_predicted,
        earliest=part.earliest,
        latest=part.latest,
        said=part_words(part, today),
    )


def fleet_rows(found: OnRecord, dues: Sequence[Due], today: date) -> Iterator[FleetRow]:
    """Engines of the register as they are due, then others with inspections, then dampers of no engine."""
    told: set[str] = set()
    for due in dues:
        yield _row(found, due_told(due, today), due.record, told)
    known = {due.record.engine for due in dues}
    for engine in sorted(set(found.inspections) - known):
        yield _row(found, None, EngineRecord(engine, inspections=tuple(found.inspections[engine])), told)
    for damper in found.pasts.dampers():
        if bare(damper) not in told:
            yield _with_past(found, FleetRow(damper=damper, checks={}))


def _row(found: OnRecord, due: DueTold | None, record: EngineRecord, told: set[str]) -> FleetRow:
    """An engine's, with the damper on it. told: the dampers that have a row,
    and this one, by their bare serials."""
    damper = base_of(record).damper
    if record.fitted is None and record.moved_to is None:
        stood = [one.damper for one in record.inspections if one.is_found or _was_there(one)]
        damper = stood[-1] if stood else None
    row = FleetRow(engine=record.engine, fleet=record.fleet, damper=damper, due=due, checks={})
    if damper is None:
        return row
    if record.fitted is None and (other := _seen_last_on(found, damper)) not in (None, record.engine):
        said = (
            f"its damper {damper} was inspected on {other} since: import the fitting of the one that is on it"
        )
        return row.model_copy(update={"damper": None, "amiss": (said,)})
    told.add(bare(damper))
    return _with_past(found, row)


def _was_there(one: Inspected) -> bool:
    """Where a damper stood is a fact, whether what was read there counts or not."""
    return one.state in ("closed", "signed")


def _seen_last_on(found: OnRecord, damper: str) -> str | None:
    looked = [
        (one.order, engine)
        for engine, those in found.inspections.items()
        for one in those
        if bare(one.damper) == bare(damper) and _was_there(one)
    ]
    return max(looked)[1] if looked else None


def _with_past(found: OnRecord, row: FleetRow) -> FleetRow:
    """With its damper's latest inspection and figures; what cannot be read of them is said."""
    try:
        history = found.pasts.history(row.damper or "")
        results = found.pasts.results(row.damper or "")
    except RingtrueError as error:
        return row.model_copy(update={"amiss": (*row.amiss, str(error).removeprefix("records: "))})
    if history is None:
        return row
    if history.amiss is not None:
        row = row.model_copy(update={"amiss": (*row.amiss, history.amiss)})
    row = row.model_copy(update={"amiss": (*row.amiss, *history.uncounted)})
    listed = latest_first(results, found.pasts.places)
    looked = [one for one in listed if one.state != "abandoned" or is_found(one)]
    return row.model_copy(
        update={
            "last": looked_told(looked[0], found.contradicted, found.amiss) if looked else None,
            "checks": {name: visit_told(visits[-1]) for name, (visits, _) in history.checks.items()},
            "drifting": history.why_sooner,
        }
    )
