"""What is due, told from all that is on record: for `due`, and for the pages of a display."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from config.errors import RingtrueError
from grading.programme.base import base_of
from grading.programme.due import STATES, Due, due_of
from grading.programme.order import contradicted
from grading.programme.past import forward_of
from records.register.engines import by_engine, engine_records
from records.register.standing import judged_of, uncounted
from ringtrue.pasts import Memory, Pasts
from ringtrue.programme_places import read_all, read_book
from ringtrue.register_words import not_in_register

if TYPE_CHECKING:
    from config.method import Method
    from grading.programme.record import EngineRecord
    from records.order import Order
    from records.register.engines import Inspections


ZONES = timedelta(days=1)
"""Who imported may have been ahead by as much."""


@dataclass(frozen=True, slots=True)
class OnRecord:
    """records: of each engine of the register; inspections: by engine, whether in the register or not;
    contradicted: as in `Order`; amiss: by its id why a `keep` does not stand."""

    records: list[EngineRecord]
    inspections: Inspections
    pasts: Pasts
    contradicted: Mapping[str, str]
    amiss: Mapping[str, str]

    def notes(self, today: date) -> list[str]:
        """What is not in the register, what is no result, and that today cannot be."""
        known = {record.engine for record in self.records}
        strange = not_in_register(sorted(set(self.inspections) - known))
        lacking = (contradicted(name, bays) for name, bays in sorted(self.contradicted.items()))
        return [*self._clock_doubted(today), *strange, *lacking, *self.amiss.values(), *self.pasts.unread]

    def _clock_doubted(self, today: date) -> Iterator[str]:
        """The register takes no day that has not come."""
        fitted = (one.day for record in self.records for one in record.fittings)
        happened = (one.day for record in self.records for one in record.events)
        counters = (one for record in self.records for one in (*record.distance_km, *record.hours_h))
        read = (one.day for one in counters if one.inspection is None)
        last = max((*fitted, *happened, *read), default=today)
        if last > today + ZONES:
            yield (
                f"by this machine's clock it is {today}, and the register has something of {last}: set the "
                "clock, or mend that day"
            )


def on_record(url: str, memory: Memory, filed: tuple[list[bytes], Order] | None = None) -> OnRecord:
    """All of it. memory: as `Pasts` has it. filed: results that are kept elsewhere, and their order, in place
    of those beside the register. Raises RecordsUnavailableError where it cannot be read."""
    if filed is None:
        book, documents, order = read_all(url)
    else:
        book, (documents, order) = read_book(url), filed
    judged = judged_of(documents, order)
    amiss = uncounted(judged, book["dampers"])
    inspections = by_engine(judged, amiss)
    pasts = Pasts(documents, memory, order, amiss)
    records = [_with_trend(one, pasts) for one in engine_records(book, inspections)]
    return OnRecord(records, inspections, pasts, order.contradicted, amiss)


def dues_of(records: Iterable[EngineRecord], method: Method, today: date) -> list[Due]:
    """The most urgent first."""
    dues = [due_of(record, method, today) for record in records]
    return sorted(dues, key=lambda due: (STATES.index(due.state), str(due.day or "9"), due.record.engine))


def _with_trend(record: EngineRecord, pasts: Pasts) -> EngineRecord:
    """With where the trend of its damper's figures puts the next inspection forward. What this version cannot
    read of a damper leaves it without one."""
    damper, forward = base_of(record).damper, None
    if damper is not None and any(one.damper == damper for one in record.inspections):
        with suppress(RingtrueError):
            history = pasts.history(damper)
            forward = None if history is None else forward_of(history)
    return replace(record, forward=forward)
