"""What the register and the results on record say of each engine, put together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import cast

from contract.serials import bare
from contract.terms import Construction, Family
from grading.programme.counters import Reading
from grading.programme.record import EngineRecord, Inspected
from records.order import NONE as NO_ORDER
from records.order import Order
from records.register.columns import Row
from records.register.merging import Book, Rows
from records.register.standing import Judged, judged_of, uncounted
from records.register.stays import brought, day_of, event_of, fittings_of, stays_of

Inspections = Mapping[str, list[Inspected]]
NO_ROWS: Rows = {}


def inspections_of(
    documents: Iterable[bytes],
    order: Order = NO_ORDER,
    dampers: Rows = NO_ROWS,
) -> Inspections:
    """The inspections of each engine, oldest first. order: as the records they are from tell it. One that
    cannot be read is told in the log. dampers: the register's."""
    judged = judged_of(documents, order)
    return by_engine(judged, uncounted(judged, dampers))


def by_engine(judged: Iterable[Judged], amiss: Container[str]) -> Inspections:
    """Those of each, oldest first. amiss: ids of what `uncounted` has; such a `keep` does not stand, and
    counts for the counters that it read alone."""
    found: dict[str, list[Inspected]] = defaultdict(list)
    for one in judged:
        found[one.engine].append(replace(one.inspected, is_uncounted=one.inspected.id in amiss))
    return {engine: sorted(those, key=lambda one: one.order) for engine, those in found.items()}


def engine_records(book: Book, inspections: Inspections) -> list[EngineRecord]:
    """What is on record of each engine of the register, in the order of their serials."""
    fittings, readings, events = (
        _by_engine(rows.values()) for rows in (book["fittings"], book["readings"], book["events"])
    )
    stays = stays_of(book["fittings"].values())
    last_place = {damper: those[-1].engine for damper, those in stays.items()}
    of_damper: dict[str, list[tuple[str, Inspected]]] = defaultdict(list)
    for name, those in inspections.items():
        for one in those:
            of_damper[bare(one.damper)].append((name, one))
    happened = {engine: [event_of(row) for row in rows] for engine, rows in events.items()}
    records = []
    for (serial,), row in sorted(book["engines"].items(), key=lambda item: str(item[0][0])):
        engine = str(serial)
        own = fittings_of(engine, fittings[engine], stays)
        damper = book["dampers"].get((own[-1].damper,)) if own else None
        place = last_place[own[-1].damper] if own else engine
        looked = inspections.get(engine, [])
        of_it = of_damper[bare(own[-1].damper)] if own else []
        came = brought(own[-1], stays, happened, of_it) if own and place == engine else ()
        records.append(
            EngineRecord(
                engine=engine,
                fleet=str(row["fleet"] or ""),
                rating_kw=cast("float | None", row["rating_kw"]),
                fittings=tuple(own),
                moved_to=None if place == engine else place,
                family=cast("Family | None", damper and damper["family"]),
                construction=cast("Construction | None", damper and damper["construction"]),
                inspections=tuple(looked),
                elsewhere=tuple(_elsewhere(of_it, engine, own[-1].damper)) if own else (),
                events=tuple(sorted((*came, *happened.get(engine, ())), key=lambda one: one.day)),
                distance_km=_readings(readings[engine], looked, "distance_km"),
                hours_h=_readings(readings[engine], looked, "hours_h"),
            )
        )
    return records


def _elsewhere(looked: Iterable[tuple[str, Inspected]], engine: str, damper: str) -> Iterator[Inspected]:
    """Of a damper on other engines than this. looked: all of its serial, with their engines. One whose serial
    differs by capitals or spaces alone, opened before the register had it, is the same where it is to go, or
    to be measured again: its limits were not known, so a `keep` of it says nothing."""
    for other, one in looked:
        if one.damper == damper:
            if other != engine:
                yield one
        elif one.ended in ("replace", "measure-again"):
            yield replace(one, damper=damper)


def _by_engine(rows: Iterable[Row]) -> Mapping[str, list[Row]]:
    """Rows of each engine in the order of their days."""
    found: dict[str, list[Row]] = defaultdict(list)
    for row in sorted(rows, key=lambda row: str(row["date"])):
        found[str(row["engine"])].append(row)
    return found


def _readings(rows: Iterable[Row], looked: Iterable[Inspected], column: str) -> tuple[Reading, ...]:
    """Of one counter, from the register and from inspections; an abandoned one may have been a slip."""
    own = [Reading(day_of(row["date"]), float(row[column] or 0.0)) for row in rows if row[column] is not None]
    seen = [
        Reading(one.day, value, one.id)
        for one in looked
        if (value := getattr(one, column)) is not None and one.state != "abandoned"
    ]
    return (*own, *seen)
