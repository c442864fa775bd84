"""What the register and the results on record say of an engine, put together."""

from __future__ import annotations

import json
from datetime import date, datetime
from typing import Any

import pytest

from config.files import shipped
from config.method import Method
from config.toml import read_toml
from grading.programme.counters import Reading
from grading.programme.due import Due, due_of
from grading.programme.record import EngineRecord, Fitting
from records.order import NONE, Order
from records.register.columns import TABLES, Row, key_of
from records.register.engines import Inspections, engine_records, inspections_of
from records.register.merging import Book
from records.register.standing import judged_of, uncounted
from tests.records.test_records_store import document

METHOD = read_toml(shipped("methods", "example"), Method)


def book(**tables: list[Row]) -> Book:
    """With what else the tables need."""
    engines: list[Row] = [{"engine": one, "fleet": "", "rating_kw": None} for one in ("E-1", "E-2")]
    dampers: list[Row] = [
        {"damper": one, "family": "viscous", "construction": "welded"} for one in ("D-1", "D-2")
    ]
    whole: dict[str, list[Row]] = {"engines": engines, "dampers": dampers, **tables}
    return {name: {key_of(name, row): row for row in whole.get(name, [])} for name in TABLES}


def fitting(engine: str, day: str, damper: str) -> Row:
    return {"engine": engine, "date": day, "damper": damper}


def one(**tables: list[Row]) -> EngineRecord:
    return engine_records(book(**tables), {})[0]


def result(inspection: str, opened: str, **more: Any) -> bytes:
    engine = {"serial": "E-1", **more}
    return document(inspection, engine=engine, damper={"serial": "D-1"}, opened=opened)


def checked(
    name: str, day: int, verdict: str, *, damper: str = "D-1", engine: str = "E-1", **outcomes: str
) -> bytes:
    """An inspection in October. outcomes: by check."""
    return document(
        name,
        engine={"serial": engine},
        damper={"serial": damper},
        opened=f"2026-10-{day:02}T06:00:00Z",
        verdict=verdict,
        checks={check: {"outcome": outcome} for check, outcome in outcomes.items()},
    )


def test_fittings_come_in_the_order_of_their_days_with_what_the_damper_is() -> None:
    record = one(fittings=[fitting("E-1", "2026-03-02", "D-2"), fitting("E-1", "2026-01-05", "D-1")])
    assert record.fittings == (Fitting(date(2026, 1, 5), "D-1"), Fitting(date(2026, 3, 2), "D-2"))
    assert record.fitted == record.fittings[-1]
    assert (record.family, record.construction, record.moved_to) == ("viscous", "welded", None)


def test_a_damper_that_was_fitted_elsewhere_since_is_gone() -> None:
    fittings = [fitting("E-1", "2026-01-05", "D-1"), fitting("E-2", "2026-03-02", "D-1")]
    first, second = engine_records(book(fittings=fittings), {})
    assert (first.fitted, first.moved_to) == (None, "E-2")
    assert (second.fitted, second.moved_to) == (Fitting(date(2026, 3, 2), "D-1"), None)


def test_a_damper_that_was_fitted_elsewhere_brings_its_inspections_along() -> None:
    fittings = [fitting("E-1", "2026-01-05", "D-1"), fitting("E-2", "2026-03-02", "D-1")]
    found = inspections_of([result("GQ-1", "2026-02-02T06:00:00Z", hours_h=1200.0)])
    first, second = engine_records(book(fittings=fittings), found)
    assert [one.id for one in first.inspections] == [one.id for one in second.elsewhere] == ["GQ-1"]
    assert (first.elsewhere, second.inspections, second.hours_h) == ((), (), ())


def test_readings_come_from_the_register_and_from_inspections_that_were_not_abandoned() -> None:
    readings: list[Row] = [
        {"engine": "E-1", "date": "2026-01-05", "distance_km": None, "hours_h": 1000.0},
    ]
    inspections = inspections_of(
        [
            result("GQ-2", "2026-05-04T06:00:00Z", hours_h=1200.0, distance_km=7.5),
            result("GQ-1", "2026-03-02T23:30:00-03:00"),
            document(
                "GQ-3",
                engine={"serial": "E-1", "hours_h": 5.0},
                state="abandoned",
                closed="2026-11-02T07:00:00.000Z",
                decision="keep",
            ),
        ]
    )
    (record, _) = engine_records(book(readings=readings), inspections)
    assert record.hours_h == (Reading(date(2026, 1, 5), 1000.0), Reading(date(2026, 5, 4), 1200.0, "GQ-2"))
    assert [look.decision for look in record.inspections] == [None, None, "keep"]
    assert [look.was_closed for look in record.inspections] == [False, False, True]
    assert record.distance_km == (Reading(date(2026, 5, 4), 7.5, "GQ-2"),)
    assert [(look.id, look.day) for look in record.inspections] == [
        ("GQ-1", date(2026, 3, 3)),  # in UTC, as results have it
        ("GQ-2", date(2026, 5, 4)),
        ("GQ-3", date(2026, 11, 2)),
    ]


def test_a_result_that_is_not_understood_is_passed_over_and_told(capsys: pytest.CaptureFixture[str]) -> None:
    odd = json.loads(document("GQ-9")) | {"opened": "some day"}
    assert list(inspections_of([json.dumps(odd).encode(), document("GQ-1")])) == ["GQ-E-2207"]
    assert "record-not-understood" in capsys.readouterr().out


def test_an_event_of_a_day_may_have_happened_until_its_end_one_of_a_moment_then() -> None:
    events: list[Row] = [
        {"engine": "E-1", "date": "2026-03-02", "trigger": "impact", "note": "tip wall"},
        {"engine": "E-1", "date": "2026-03-02T06:30:00Z", "trigger": "rattle", "note": ""},
    ]
    day, moment = one(events=events).events
    assert (day.day, day.note) == (date(2026, 3, 2), "tip wall")
    assert day.moment.astimezone().hour == 23
    assert moment.moment == datetime.fromisoformat("2026-03-02T06:30:00+00:00")


def impact(engine: str, moment: str, note: str = "") -> Row:
    return {"engine": engine, "date": moment, "trigger": "impact", "note": note}


def due(book: Book, inspections: Inspections, engine: str = "E-1") -> Due:
    return {one.engine: due_of(one, METHOD, date(2026, 11, 26)) for one in engine_records(book, inspections)}[
        engine
    ]


def test_a_damper_that_is_fitted_again_where_it_was_is_no_other() -> None:
    """What hit it, and since when its intervals count, stays."""
    fittings = [fitting("E-1", "2025-01-07", "D-1"), fitting("E-1", "2026-11-20", "D-1")]
    found = inspections_of([result("GQ-1", "2025-06-02T06:00:00Z")])
    (record, _) = engine_records(book(fittings=fittings), found)
    assert record.fittings == (Fitting(date(2025, 1, 7), "D-1"),)
    again = due(book(fittings=fittings, events=[impact("E-1", "2026-11-02")]), found)
    assert again.base.inspection is not None
    assert again.base.inspection.id == "GQ-1"
    assert (again.state, len(again.events)) == ("overdue", 1)


def test_what_hit_a_damper_goes_with_it_to_another_engine_until_it_was_kept() -> None:
    fittings = [
        fitting("E-1", "2026-01-05", "D-1"),
        fitting("E-2", "2026-01-05", "D-2"),
        fitting("E-2", "2026-11-20", "D-1"),  # exchanged on one day
        fitting("E-1", "2026-11-20", "D-2"),
    ]
    events = [impact("E-1", "2026-11-02", "tip wall"), impact("E-2", "2026-01-04")]
    of = book(fittings=fittings, events=events)
    there, here = due(of, {}, "E-2"), due(of, {})
    assert (there.state, here.events) == ("due", ())
    assert there.sentences[0] == (
        "2026-11-20: the front end was hit, or the damper was struck (on E-1 on 2026-11-02, with this "
        "damper: tip wall): inspect it before it runs on"
    )
    assert due(of, inspections_of([result("GQ-1", "2026-11-02T06:00:00Z")]), "E-2").events == there.events
    assert due(of, inspections_of([result("GQ-1", "2026-11-03T06:00:00Z")]), "E-2").events == ()


@pytest.mark.parametrize("engine", ["E-1", "e-1", "E-7"])
def test_what_condemned_a_damper_does_so_under_its_serial_in_other_capitals(engine: str) -> None:
    """A scanner whose capitals were turned over, while the register was not read yet."""
    of = book(fittings=[fitting("E-1", "2026-01-05", "D-1")])

    def looked(name: str, opened: str, damper: str, verdict: str) -> bytes:
        return document(
            name, engine={"serial": engine}, damper={"serial": damper}, opened=opened, verdict=verdict
        )

    first = looked("GQ-1", "2026-02-02T06:00:00Z", " d-1", "replace")
    found = due(of, inspections_of([first]))
    assert (found.state, found.base.condemned is not None) == ("due", True)
    near = looked("GQ-2", "2026-02-03T06:00:00Z", "d-1", "keep")
    assert due(of, inspections_of([first, near])).state == "due"
    kept = looked("GQ-3", "2026-02-04T06:00:00Z", "D-1", "keep")
    assert due(of, inspections_of([first, kept])).base.condemned is None


def test_a_keep_of_a_damper_of_another_family_than_the_register_has_does_not_count() -> None:
    """It stood there as one of rubber when it was inspected and signed, and was put right then."""
    kept = document(
        "GQ-1",
        engine={"serial": "E-1"},
        damper={"serial": "D-1", "family": "rubber"},
        opened="2026-02-02T06:00:00Z",
    )
    dampers = book()["dampers"]
    (looked,) = inspections_of([kept], dampers=dampers)["E-1"]
    assert (looked.is_done, looked.is_found) == (False, False)
    assert list(uncounted(judged_of([kept], NONE), dampers).values()) == [
        "inspection GQ-1 of 2026-02-02 does not count: it judged damper D-1 as rubber, and the register says "
        "viscous: mend the register, or correct the inspection, giving its damper anew"
    ]
    same = kept.replace(b"rubber", b"viscous")
    condemned = kept.replace(b'"keep"', b'"replace"')
    for one in (same, condemned):
        assert [looked.is_found for looked in inspections_of([one], dampers=dampers)["E-1"]] == [True]


def test_a_keep_that_did_not_make_again_what_condemned_its_damper_does_not_count() -> None:
    """A crack on the bench, and two days later run-out within on the engine: nothing was due."""

    cracked = checked("GQ-1", 1, "replace", thickness="within", penetrant="bad")
    turned = checked("GQ-2", 3, "keep", rim="within", face="within")
    again = checked("GQ-3", 5, "keep", penetrant="good")
    of = book(fittings=[fitting("E-1", "2026-01-05", "D-1")])
    found = due(of, inspections_of([cracked, turned]))
    assert found.base.condemned is not None
    assert list(uncounted(judged_of([cracked, turned], NONE), of["dampers"]).values()) == [
        "inspection GQ-2 of 2026-10-03 does not count: inspection GQ-1 ended in replace by its penetrant, "
        "which this did not make again"
    ]
    assert due(of, inspections_of([cracked, turned, again])).base.condemned is None
    unclear = checked("GQ-4", 7, "measure-again", rim="unclear")
    assert due(of, inspections_of([unclear, checked("GQ-5", 8, "keep", thickness="within")])).base.again
    assert due(of, inspections_of([unclear, checked("GQ-6", 9, "keep", rim="within")])).base.again is None


@pytest.mark.parametrize("ended", ["replace", "measure-again"])
def test_what_a_contested_inspection_found_amiss_stands_until_it_is_looked_at_again(ended: str) -> None:
    """A copy of the bay issued another result under its name: the crack was gone, and the damper kept."""
    cracked = checked("GQ-1", 1, ended, penetrant="unclear" if ended == "measure-again" else "bad")
    turned = checked("GQ-2", 3, "keep", rim="within")
    again = checked("GQ-3", 5, "keep", penetrant="good")
    of = book(fittings=[fitting("E-1", "2026-01-05", "D-1")])
    torn = Order({}, {"GQ-1": "quarry/bay-2, quarry/bay-3"})
    (why,) = uncounted(judged_of([cracked, turned], torn), of["dampers"]).values()
    assert why.endswith(f"GQ-1 ended in {ended} by its penetrant, which this did not make again")
    found = due(of, inspections_of([cracked, turned], torn))
    assert (found.state, found.base.inspection, found.base.contested is not None) == ("due", None, True)
    assert uncounted(judged_of([cracked, again], torn), of["dampers"]) == {}
    assert due(of, inspections_of([cracked, turned, again], torn)).base.contested is None


def test_a_contested_keep_settles_nothing() -> None:
    """Nor is it told twice that it does not count."""
    of = book(fittings=[fitting("E-1", "2026-01-05", "D-1")])
    cracked = checked("GQ-1", 1, "replace", penetrant="bad")
    torn = checked("GQ-2", 3, "keep", penetrant="good")
    turned = checked("GQ-3", 5, "keep", rim="within")
    order = Order({}, {"GQ-2": "quarry/bay-2, quarry/bay-3"})
    assert list(uncounted(judged_of([cracked, torn, turned], order), of["dampers"])) == ["GQ-3"]
    assert due(of, inspections_of([cracked, torn, turned], order)).base.condemned is not None


@pytest.mark.parametrize("written", ["d-1", "D-1 ", "\uff24-1"])
def test_serials_that_differ_by_capitals_or_spaces_alone_are_one_damper_s(written: str) -> None:
    """Without a register nothing had told who typed it that it was condemned under another."""
    cracked = checked("GQ-1", 1, "replace", penetrant="bad")
    turned = checked("GQ-2", 3, "keep", damper=written, rim="within")
    again = checked("GQ-3", 2, "keep", damper=written, rim="within", penetrant="good")
    assert list(uncounted(judged_of([cracked, turned], NONE), {})) == ["GQ-2"]
    assert uncounted(judged_of([cracked, turned, again], NONE), {}) == {}
    rubber = turned.replace(b'"damper": {', b'"damper": {"family": "rubber", ')
    assert rubber != turned
    assert list(uncounted(judged_of([rubber], NONE), book()["dampers"])) == ["GQ-2"]


def test_a_keep_that_does_not_stand_tells_its_counters_all_the_same() -> None:
    """Without them the engine had come less far than was read, and might be due by them."""
    kept = document(
        "GQ-1",
        engine={"serial": "E-1", "hours_h": 11_500.0},
        damper={"serial": "D-1", "family": "rubber"},
        opened="2026-02-02T06:00:00Z",
    )
    of = book(fittings=[fitting("E-1", "2026-01-05", "D-1")])
    record = engine_records(of, inspections_of([kept], dampers=of["dampers"]))[0]
    assert [one.value for one in record.hours_h] == [11_500.0]
    assert due(of, inspections_of([kept], dampers=of["dampers"])).base.inspection is None


def test_what_hit_the_engine_while_another_damper_was_on_it_is_not_this_ones() -> None:
    fittings = [
        fitting("E-1", "2025-01-05", "D-1"),
        fitting("E-1", "2026-03-02", "D-2"),
        fitting("E-1", "2026-09-01", "D-1"),
    ]
    of = book(fittings=fittings, events=[impact("E-1", "2026-05-04")])
    assert due(of, {}).events == ()
    before = book(fittings=fittings, events=[impact("E-1", "2026-01-04")])
    assert [one.day for one in due(before, {}).events] == [date(2026, 9, 1)]
