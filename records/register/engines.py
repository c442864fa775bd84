"""What the register and the results on record say of each engine, put together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import UTC
from typing import Any, cast

import structlog
from pydantic import AwareDatetime, BaseModel, ConfigDict, ValidationError

from contract.serials import bare
from contract.terms import Construction, Decision, Family, State, Verdict
from grading.programme.counters import Reading
from grading.programme.order import places_of
from grading.programme.record import EngineRecord, Inspected
from records.order import NONE as NO_ORDER
from records.order import Order
from records.register.columns import Row
from records.register.merging import Book, Rows
from records.register.stays import brought, day_of, event_of, fittings_of, stays_of
from records.register.unanswered import unanswered

Inspections = Mapping[str, list[Inspected]]
NO_ROWS: Rows = {}


class _Engine(BaseModel):
    model_config = ConfigDict(extra="ignore")
    serial: str
    distance_km: float | None = None
    hours_h: float | None = None


class _Damper(BaseModel):
    model_config = ConfigDict(extra="ignore")
    serial: str
    family: str | None = None


class _Result(BaseModel):
    """What is needed of a result document, whatever version wrote the rest of it."""

    model_config = ConfigDict(extra="ignore")
    inspection: str
    opened: AwareDatetime
    state: State
    verdict: Verdict
    decision: Decision | None = None
    closed: str | None = None
    engine: _Engine
    damper: _Damper
    checks: Any = None


def inspections_of(
    documents: Iterable[bytes],
    order: Order = NO_ORDER,
    dampers: Rows = NO_ROWS,
    amiss: list[str] | None = None,
) -> Inspections:
    """The inspections of each engine, oldest first. order: as the records they are from tell it. One that
    cannot be read is told in the log. dampers: the register's. A `keep` of a damper that was taken for one of
    another family says nothing, as their limits differ tenfold: it is left out, and told in `amiss`; so is
    one that did not make again what its damper was condemned by."""
    places = places_of(order.lines)
    found: dict[str, list[Inspected]] = defaultdict(list)
    outcomes: dict[str, dict[str, str]] = {}
    for document in documents:
        try:
            result = _Result.model_validate_json(document)
        except ValidationError as error:
            structlog.get_logger().warning("record-not-understood", error=str(error.errors()[0]["msg"]))
            continue
        inspected = Inspected(
            id=result.inspection,
            opened=result.opened,
            day=result.opened.astimezone(UTC).date(),
            damper=result.damper.serial,
            state=result.state,
            verdict=result.verdict,
            distance_km=result.engine.distance_km,
            hours_h=result.engine.hours_h,
            decision=result.decision,
            place=places.get(result.inspection),
            contested=order.contradicted.get(result.inspection),
            was_closed=result.closed is not None,
        )
        other = _of_another_family(inspected, result.damper.family, dampers)
        if other is not None:
            if amiss is not None:
                amiss.append(other)
            continue
        outcomes[result.inspection] = _outcomes(result.checks)
        found[result.engine.serial].append(inspected)
    open_still = unanswered((one for those in found.values() for one in those), outcomes)
    if amiss is not None:
        amiss += open_still.values()
    found = {engine: [one for one in those if one.id not in open_still] for engine, those in found.items()}
    return {engine: sorted(those, key=lambda one: one.order) for engine, those in found.items() if those}


def _outcomes(checks: Any) -> dict[str, str]:
    """By check; of what is none of ours nothing."""
    if not isinstance(checks, dict):
        return {}
    return {name: str(one.get("outcome")) for name, one in checks.items() if isinstance(one, dict)}


def _of_another_family(one: Inspected, judged: str | None, dampers: Rows) -> str | None:
    family = dampers.get((one.damper,), {}).get("family")
    if not one.is_done or one.ended != "keep" or judged is None or family in (None, judged):
        return None
    return (
        f"inspection {one.id} of {one.day} does not count: it judged damper {one.damper} as {judged}, and "
        f"the register says {family}: mend the register, or correct the inspection, giving its damper anew"
    )


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
