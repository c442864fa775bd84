"""From when an engine's intervals count: the last inspection that counts, else the fitting of its damper."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from contract.terms import Verdict
from grading.programme.record import EngineRecord, Event, Inspected

BEFORE_FITTING = timedelta(days=1)
"""An inspection's day is of UTC, a fitting's of the workshop; and who inspects on the bench fits next day."""


@dataclass(frozen=True, slots=True)
class Base:
    """day: from which the calendar counts. damper: on which. inspection: None where it is the fitting.

    condemned: a later inspection of that damper, on any engine, which ended in `replace`; again: one that
    ended in `measure-again`, of which nobody knows what it would have come to; contested: one of which bays
    issued results that contradict each other. None of them where one that was kept came later for sure.
    sentences: what on record
    does not count, and why.
    """

    day: date | None
    damper: str | None
    inspection: Inspected | None = None
    condemned: Inspected | None = None
    again: Inspected | None = None
    contested: Inspected | None = None
    sentences: tuple[str, ...] = ()

    @property
    def is_pressing(self) -> bool:
        """Whether what an inspection came to makes it due at once."""
        return any(one is not None for one in (self.condemned, self.again, self.contested))


def base_of(record: EngineRecord) -> Base:
    """From when the intervals count; day is None where nothing on record says it.

    A `keep` counts, closed or signed, of the damper that is fitted; a signer's own decision stands for the
    verdict. What is incomplete, open or abandoned does not; `measure-again` and `replace` do not either,
    and the engine is due until another damper is fitted or the same one was kept after all; to fit the same
    one again, here or elsewhere, changes nothing.
    """
    fitted = record.fitted
    done = [one for one in record.inspections if one.is_done]
    damper, since = (None, date.min) if fitted is None else (fitted.damper, fitted.day - BEFORE_FITTING)
    if damper is None and record.moved_to is None and done:
        damper = done[-1].damper
    own = [one for one in done if one.damper == damper and one.day >= since]
    kept = next((one for one in reversed(own) if one.ended == "keep" and one.contested is None), None)
    after = [one for one in own if kept is None or one.order > kept.order]
    # Wherever it was inspected: a condemned one is none the better for being fitted again.
    of_it = [one for one in (*done, *record.elsewhere) if one.is_done and one.damper == damper]
    said = [one for one in sorted(of_it, key=lambda one: one.order) if one.ended != "incomplete"]
    told = [one for one in said if one.contested is None and one.ended != "measure-again"]
    keeps = [one for one in told if one.ended == "keep"]
    condemned = _left(said, "replace", keeps)
    again = _left(said, "measure-again", told)
    contested = next(
        (one for one in reversed(of_it) if one.contested and not any(k.is_after(one) for k in keeps)), None
    )
    day = kept.day if kept is not None else fitted.day if fitted is not None else None
    sentences = tuple(_sentences(record, damper, done, after, kept))
    return Base(day, damper, kept, condemned, again, contested, sentences)


def _left(said: list[Inspected], ended: Verdict, later: list[Inspected]) -> Inspected | None:
    """The latest that ended so, where nothing of those came later for sure."""
    open_ones = (one for one in reversed(said) if one.ended == ended)
    return next((one for one in open_ones if not any(other.is_after(one) for other in later)), None)


def _sentences(
    record: EngineRecord,
    damper: str | None,
    done: list[Inspected],
    after: list[Inspected],
    kept: Inspected | None,
) -> Iterator[str]:
    if kept is not None and kept.verdict != "keep":
        yield f"inspection {kept.id} of {kept.day} came to {kept.verdict}, and who signed it decided keep"
    if record.moved_to is not None:
        yield (
            f"its damper {record.fittings[-1].damper} went to {record.moved_to} since, and no other here: "
            "import the fitting of the one that is on it"
        )
    fitted = record.fitted
    others = [one for one in done if fitted is not None and one.damper != damper and one.day > fitted.day]
    if others and fitted is not None:
        last = others[-1]
        yield (
            f"inspection {last.id} of {last.day} is of damper {last.damper}, and {damper} is fitted since "
            f"{fitted.day} by the register: it does not count until the fitting of {last.damper} is imported"
        )
    unfinished = [one for one in after if one.ended == "incomplete"]
    if unfinished:
        last = unfinished[-1]
        yield f"inspection {last.id} of {last.day} ended in {last.ended} and does not count"


def open_events(record: EngineRecord, base: Base) -> list[Event]:
    """Events that no counting inspection has followed. A damper that was fitted on a later day knows nothing
    of them either."""
    fitted = record.fitted
    left = [event for event in record.events if fitted is None or event.day >= fitted.day]
    if base.inspection is not None:
        left = [event for event in left if event.moment >= base.inspection.opened]
    return left
