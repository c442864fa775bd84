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
    """day: from which it counts. damper: on which. inspection: None where it is the fitting. used: the last
    `keep` of a damper that was fitted used; it ages wherever it is, and the calendar counts from that.

    condemned: a later inspection of that damper, on any engine, or on this engine of one that by the register
    never was on it, which ended in `replace`; again: one that ended in `measure-again`, of which nobody knows
    what it would have come to; contested: one of which bays issued results that contradict each other. None
    of them where one that was kept came later for sure. sentences: what on record does not count, and why.
    """

    day: date | None
    damper: str | None
    inspection: Inspected | None = None
    used: Inspected | None = None
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
    verdict. What is incomplete, open or abandoned does not; `measure-again` and `replace` do not either, and
    the engine is due, also where the one that was closed so was given up then, until another damper is fitted
    or the same one was kept after all; to fit the same one again, here or elsewhere, changes nothing. A
    damper that the register never had on this engine is the one that is on it, fitted since or mistyped: what
    condemns it counts, a `keep` of it does not.
    """
    fitted = record.fitted
    done = [one for one in record.inspections if one.is_done]
    found = [one for one in record.inspections if one.is_found]
    damper, since = (None, date.min) if fitted is None else (fitted.damper, fitted.day - BEFORE_FITTING)
    if damper is None and record.moved_to is None and found:
        damper = found[-1].damper
    own = [one for one in done if one.damper == damper and one.day >= since]
    kept = next((one for one in reversed(own) if one.ended == "keep" and one.contested is None), None)
    after = [one for one in own if kept is None or one.order > kept.order]
    # Wherever it was inspected: a condemned one is none the better for being fitted again.
    of_it = [one for one in (*found, *record.elsewhere) if one.is_found and one.damper == damper]
    condemned, again, contested = _pressing(of_it, [])
    if fitted is not None:
        known = {one.damper for one in record.fittings}
        strange = [one for one in found if one.damper not in known and one.day > fitted.day]
        others = _pressing(strange, own)
        condemned, again, contested = condemned or others[0], again or others[1], contested or others[2]
    day = kept.day if kept is not None else fitted.day if fitted is not None else None
    used = _used(of_it, fitted.day) if kept is None and fitted is not None else None
    sentences = tuple(_sentences(record, damper, done, after, kept))
    return Base(day, damper, kept, used, condemned, again, contested, sentences)


def _used(of_it: list[Inspected], fitted: date) -> Inspected | None:
    """The last inspection before this day in which the damper was kept."""
    told = [one for one in of_it if one.is_done and one.ended == "keep" and one.contested is None]
    return max((one for one in told if one.day < fitted), key=lambda one: one.order, default=None)


def _pressing(those: list[Inspected], later: list[Inspected]) -> tuple[Inspected | None, ...]:
    """Of these inspections the one that condemns, the one to be measured again, and the one that is
    contradicted, each where none came later for sure that says otherwise, of these or of `later`."""
    said = [one for one in sorted(those, key=lambda one: one.order) if one.ended != "incomplete"]
    told = [one for one in (*said, *later) if one.contested is None and one.ended in ("keep", "replace")]
    keeps = [one for one in told if one.ended == "keep"]
    torn = (one for one in reversed(those) if one.contested and not any(k.is_after(one) for k in keeps))
    return _left(said, "replace", keeps), _left(said, "measure-again", told), next(torn, None)


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
    fitted, known = record.fitted, {one.damper for one in record.fittings}
    others = [one for one in done if fitted is not None and one.damper != damper and one.day > fitted.day]
    if others and fitted is not None:
        last = others[-1]
        counts = last.ended in ("replace", "measure-again") and last.damper not in known
        yield (
            f"inspection {last.id} of {last.day} is of damper {last.damper}, and {damper} is fitted since "
            f"{fitted.day} by the register: "
            + (
                f"import the fitting of {last.damper}, or correct its serial in the inspection"
                if counts
                else f"it does not count until the fitting of {last.damper} is imported"
            )
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
