from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from config.files import shipped
from config.method import Method
from config.toml import read_toml
from contract.result import NextDue
from contract.terms import State, Verdict
from grading.programme.counters import Reading
from grading.programme.due import Due, due_of
from grading.programme.record import EngineRecord, Event, Fitting, Forward, Inspected

METHOD = read_toml(shipped("methods", "example"), Method)
"""200 000 km, 3000 h, 12 months; due soon: 30 days or a tenth."""
FITTED = date(2026, 1, 5)
TODAY = date(2026, 7, 6)
"""182 days after."""


def inspected(
    day: date,
    verdict: Verdict = "keep",
    *,
    id_: str = "GQ-1",
    damper: str = "D-1",
    state: State = "signed",
    **more: Any,
) -> Inspected:
    return Inspected(
        id_, datetime(day.year, day.month, day.day, 6, tzinfo=UTC), day, damper, state, verdict, **more
    )


def hours(*readings: tuple[date, float]) -> tuple[Reading, ...]:
    return tuple(Reading(day, value) for day, value in readings)


RECORD = EngineRecord(
    engine="E-1",
    fleet="truck 14",
    fittings=(Fitting(FITTED, "D-1"),),
    family="viscous",
    hours_h=hours((FITTED, 1000.0), (TODAY, 1910.0)),
)
"""5 h a day."""


def due(record: EngineRecord = RECORD, today: date = TODAY, **more: Any) -> Due:
    return due_of(replace(record, **more), METHOD, today)


def part(found: Due, by: str) -> Any:
    return next(part for part in found.parts if part.by == by)


def test_from_the_fitting_whichever_comes_first() -> None:
    found = due()
    assert (found.state, found.day) == ("ok", date(2027, 1, 5))
    assert found.first is part(found, "calendar")
    by_hours = part(found, "hours")
    assert (by_hours.at, by_hours.left, by_hours.per_day) == (4000.0, 2090.0, 5.0)
    assert by_hours.day == TODAY + timedelta(days=2090 // 5)
    assert found.sentences == ("no reading of the odometer is on record",)


def test_hours_come_first_where_they_run_faster() -> None:
    found = due(hours_h=hours((FITTED, 1000.0), (TODAY, 3002.0)))  # 11 h a day, 998 left
    assert found.first is part(found, "hours")
    assert found.day == TODAY + timedelta(days=998 // 11)
    assert found.state == "ok"


@pytest.mark.parametrize(
    ("reading", "state"),
    [(3699.0, "ok"), (3701.0, "due-soon"), (4000.0, "due"), (4000.5, "overdue")],
)
def test_by_a_counters_reading_of_today(reading: float, state: str) -> None:
    """A tenth of 3000 h is 300. Read first long ago, so that its pace makes nothing of 30 days."""
    long_ago = date(2024, 1, 1)
    found = due(
        fittings=(Fitting(TODAY - timedelta(days=100), "D-1"),),
        hours_h=hours((long_ago, 1000.0), (TODAY, reading)),
    )
    assert part(found, "hours").state == state
    assert found.state == state


@pytest.mark.parametrize(
    ("today", "state"),
    [
        (date(2026, 11, 29), "ok"),
        (date(2026, 11, 30), "due-soon"),
        (date(2027, 1, 4), "due-soon"),
        (date(2027, 1, 5), "due"),
        (date(2027, 1, 6), "overdue"),
    ],
)
def test_by_the_calendar(today: date, state: str) -> None:
    """A tenth of a year is 36 days."""
    standing = hours((FITTED, 1000.0), (TODAY, 1000.0))
    found = due(hours_h=standing, today=today)
    assert (found.state, found.day) == (state, date(2027, 1, 5))


def test_a_counter_not_read_for_long_is_due_by_its_pace() -> None:
    found = due(hours_h=hours((FITTED, 1000.0), (FITTED + timedelta(days=100), 2900.0)))  # 19 h a day
    by_hours = part(found, "hours")
    assert by_hours.day == FITTED + timedelta(days=100 + 1100 // 19)
    assert (by_hours.state, by_hours.is_predicted) == ("overdue", True)
    assert found.state == "overdue"


def test_within_the_days_of_the_method_by_its_pace() -> None:
    found = due(hours_h=hours((FITTED, 1000.0), (TODAY, 3548.0)))  # 14 h a day, 452 left: 32 days
    assert found.state == "ok"
    assert due(hours_h=found.record.hours_h, today=TODAY + timedelta(days=2)).state == "due-soon"


def test_what_counts_is_the_last_inspection_that_ended_in_keep() -> None:
    found = due(
        inspections=(
            inspected(date(2026, 3, 2), hours_h=1280.0),
            inspected(date(2026, 5, 4), "measure-again", id_="GQ-2", hours_h=1595.0),
        )
    )
    assert found.base.inspection is not None
    assert found.base.inspection.id == "GQ-1"
    assert part(found, "hours").at == 4280.0
    assert part(found, "calendar").day == date(2027, 3, 2)
    assert "inspection GQ-2 of 2026-05-04 ended in measure-again and does not count: measure again" in (
        found.sentences
    )


@pytest.mark.parametrize("is_here", [True, False])
def test_a_condemned_damper_is_none_the_better_for_being_fitted_again(is_here: bool) -> None:
    """On the same engine or on another: until it was kept."""
    before = inspected(FITTED - timedelta(days=30), "replace")
    where: dict[str, Any] = {"inspections": (before,)} if is_here else {"elsewhere": (before,)}
    found = due(**where)
    assert (found.state, found.day) == ("due", TODAY)
    assert "ended in replace: fit another damper" in found.sentences[0]
    kept = inspected(FITTED, id_="GQ-2", hours_h=1000.0)
    assert due(**where | {"inspections": (*where.get("inspections", ()), kept)}).state == "ok"
    to_come = inspected(TODAY + timedelta(days=9), id_="GQ-4")
    assert due(**where | {"elsewhere": (*where.get("elsewhere", ()), to_come)}).state == "due"
    later = inspected(FITTED - timedelta(days=3), id_="GQ-3")
    assert due(**where | {"elsewhere": (*where.get("elsewhere", ()), later)}).state == "ok"


def test_what_was_to_be_measured_again_is_due_until_it_was() -> None:
    day = date(2026, 5, 4)
    first, again = inspected(date(2026, 3, 2)), inspected(day, "measure-again", id_="GQ-2")
    found = due(inspections=(first, again))
    assert (found.state, found.day) == ("due", TODAY)
    kept = inspected(day + timedelta(days=1), id_="GQ-3", hours_h=1600.0)
    assert due(inspections=(first, again, kept)).state == "ok"
    assert due(inspections=(first, replace(again, state="open"))).state == "ok"
    assert due(fittings=(Fitting(day + timedelta(days=2), "D-2"),), inspections=(first, again)).state == "ok"


@pytest.mark.parametrize(
    ("verdict", "state"),
    [("keep", "open"), ("keep", "abandoned"), ("incomplete", "signed"), ("measure-again", "closed")],
)
def test_what_does_not_count_leaves_the_fitting(verdict: Verdict, state: State) -> None:
    found = due(inspections=(inspected(date(2026, 5, 4), verdict, state=state),))
    assert found.base.inspection is None
    assert found.base.day == FITTED


def test_a_verdict_of_replace_is_due_until_another_damper_is_fitted() -> None:
    day = date(2026, 5, 4)
    condemned = due(inspections=(inspected(day, "replace"),))
    assert (condemned.state, condemned.day) == ("due", TODAY)
    assert condemned.sentences[0].startswith("inspection GQ-1 of 2026-05-04 ended in replace: fit another")
    anew = due(
        inspections=(inspected(day, "replace"),),
        fittings=(Fitting(FITTED, "D-1"), Fitting(day, "D-2")),
        hours_h=(*RECORD.hours_h, Reading(day, 1600.0)),
    )
    assert (anew.state, anew.base.damper, part(anew, "hours").at) == ("ok", "D-2", 4600.0)


def test_a_keep_after_the_remedy_takes_a_replace_back() -> None:
    found = due(
        inspections=(
            inspected(date(2026, 5, 4), "replace"),
            inspected(date(2026, 5, 5), id_="GQ-2", hours_h=1600.0),
        )
    )
    assert (found.state, found.base.condemned) == ("ok", None)


def test_a_signers_own_decision_stands_for_the_verdict() -> None:
    day = date(2026, 5, 4)
    condemned = due(inspections=(inspected(day, "keep", decision="replace"),))
    assert condemned.state == "due"
    assert condemned.sentences[0].startswith("inspection GQ-1 of 2026-05-04 ended in replace: fit another")
    kept = due(inspections=(inspected(day, "measure-again", decision="keep", hours_h=1600.0),))
    assert (kept.state, kept.base.day) == ("ok", day)
    assert kept.sentences[0] == (
        "inspection GQ-1 of 2026-05-04 came to measure-again, and who signed it decided keep"
    )


def test_an_inspection_of_a_day_that_has_not_come_does_not_count() -> None:
    ahead = inspected(TODAY + timedelta(days=2), hours_h=1950.0)
    found = due(inspections=(ahead,), hours_h=(*RECORD.hours_h, Reading(ahead.day, 1950.0, ahead.id)))
    assert found.base.day == FITTED
    assert part(found, "hours").last.value == 1910.0
    assert "inspection GQ-1 is of 2026-07-08, which has not come" in found.sentences[0]
    tomorrow_in_utc = inspected(TODAY + timedelta(days=1), hours_h=1950.0)
    assert due(inspections=(tomorrow_in_utc,)).base.inspection == tomorrow_in_utc


def test_an_inspection_of_another_damper_than_the_fitted_one_does_not_count_and_is_told() -> None:
    found = due(inspections=(inspected(date(2026, 5, 4), damper="D-9"),))
    assert found.base.day == FITTED
    assert "is of damper D-9, and D-1 is fitted since 2026-01-05" in found.sentences[0]


def test_an_inspection_on_the_bench_the_day_before_the_fitting_counts_an_earlier_one_does_not() -> None:
    for days, counts in ((1, True), (2, False)):
        found = due(inspections=(inspected(FITTED - timedelta(days=days), hours_h=990.0),))
        assert (found.base.inspection is not None) is counts


def test_without_a_fitting_on_record_inspections_count_of_the_damper_seen_last() -> None:
    found = due(
        fittings=(),
        inspections=(
            inspected(date(2026, 3, 2), damper="D-0"),
            inspected(date(2026, 5, 4), "measure-again", id_="GQ-2"),
        ),
    )
    assert (found.base.damper, found.base.day, found.state) == ("D-1", None, "due")
    kept = due(fittings=(), inspections=(inspected(date(2026, 5, 4), hours_h=1600.0),))
    assert (kept.state, kept.base.day) == ("ok", date(2026, 5, 4))


def test_nothing_on_record_is_unknown_in_one_sentence() -> None:
    found = due(fittings=(), hours_h=())
    assert (found.state, found.day, found.parts) == ("unknown", None, ())
    assert len(found.sentences) == 1
    assert "neither an inspection that counts nor the fitting" in found.sentences[0]


def test_a_damper_that_was_moved_to_another_engine_is_not_on_this_one() -> None:
    found = due(moved_to="E-2", inspections=(inspected(date(2026, 5, 4)),))
    assert found.state == "unknown"
    assert "its damper D-1 went to E-2 since, and no other here" in found.sentences[0]


def event(day: date, hour: int = 12, trigger: str = "impact") -> Event:
    return Event(trigger, day, datetime(day.year, day.month, day.day, hour, tzinfo=UTC), "tip wall")


def test_an_event_makes_it_due_until_an_inspection_that_counts_was_opened_later() -> None:
    day = date(2026, 5, 4)
    found = due(events=(event(day),))
    assert (found.state, found.day) == ("due", TODAY)
    assert found.sentences[0] == (
        "2026-05-04: the front end was hit, or the damper was struck (tip wall): inspect it before it runs on"
    )
    kept = inspected(day, hours_h=1600.0)  # opened at six
    assert due(events=(event(day, 5),), inspections=(kept,)).state == "ok"
    assert due(events=(event(day, 6),), inspections=(kept,)).state == "due"
    again = inspected(date(2026, 5, 6), "measure-again")
    assert due(events=(event(day),), inspections=(again,)).state == "due"


def test_an_event_of_before_the_fitting_is_not_this_dampers() -> None:
    assert due(events=(event(FITTED - timedelta(days=1)),)).state == "ok"
    assert due(events=(event(FITTED),)).state == "due"


def test_a_trigger_that_the_method_has_no_more_still_makes_it_due() -> None:
    found = due(events=(event(date(2026, 5, 4), trigger="flood"),))
    assert (found.state, found.sentences[0][:17]) == ("due", "2026-05-04: flood")


def test_a_counter_that_falls_is_told_and_makes_nothing_ok() -> None:
    inspections = (
        inspected(date(2026, 3, 2), hours_h=1280.0),
        inspected(date(2026, 5, 4), id_="GQ-2", hours_h=128.0),
    )
    found = due(
        inspections=inspections,
        hours_h=tuple(Reading(one.day, one.hours_h or 0.0, one.id) for one in inspections),
    )
    assert found.state == "unknown"
    assert found.sentences[-1] == (
        "the hour meter falls from 1280 h (2026-03-02, inspection GQ-1) to 128 h (2026-05-04, "
        "inspection GQ-2): import the true reading of one of these days"
    )


def test_a_counter_that_an_inspection_mistyped_is_left_out_and_the_register_counts() -> None:
    kept = inspected(date(2026, 5, 4), hours_h=160.0)
    found = due(inspections=(kept,), hours_h=(*RECORD.hours_h, Reading(kept.day, 160.0, kept.id)))
    assert part(found, "hours").at == 4000.0
    assert (
        "the hour meter at 160 h (2026-05-04, inspection GQ-1) contradicts the register: left out"
        in found.sentences
    )


def test_a_counter_first_read_after_the_fitting_is_unknown_one_read_before_counts_from_there() -> None:
    late = due(hours_h=hours((FITTED + timedelta(days=9), 1000.0), (TODAY, 1900.0)))
    assert late.state == "unknown"
    assert "the hour meter was not read until 2026-01-05, from which it counts" in late.sentences[-1]
    early = due(hours_h=hours((FITTED - timedelta(days=9), 960.0), (TODAY, 1900.0)))
    assert part(early, "hours").at == 3960.0
    assert "the hour meter counts from 960 h (2025-12-27)" in early.sentences[-1]


def test_one_reading_alone_has_no_rate() -> None:
    found = due(hours_h=hours((FITTED, 1000.0)))
    assert (part(found, "hours").day, part(found, "hours").per_day) == (None, None)
    assert "read on 2026-01-05 only, so its rate is unknown" in found.sentences[-1]


def test_a_counter_read_once_and_long_ago_is_not_taken_for_not_due() -> None:
    once = hours((FITTED, 1000.0))
    assert due(hours_h=once, today=FITTED + timedelta(days=30)).state == "ok"
    assert due(hours_h=once, today=FITTED + timedelta(days=31)).state == "unknown"


def test_without_any_counter_it_is_unknown_unless_the_method_limits_none() -> None:
    assert due(hours_h=()).state == "unknown"
    assert due(hours_h=(), distance_km=hours((FITTED, 10.0), (TODAY, 20.0))).state == "ok"
    intervals = METHOD.intervals.model_copy(update={"distance_km": None, "hours_h": None})
    bare = replace(RECORD, hours_h=())
    assert due_of(bare, METHOD.model_copy(update={"intervals": intervals}), TODAY).state == "ok"


def test_an_inspection_falls_together_with_the_valve_set_before_it() -> None:
    intervals = METHOD.intervals.model_copy(update={"valve_set_hours_h": 1500.0})
    method = METHOD.model_copy(update={"intervals": intervals})
    assert part(due_of(RECORD, method, TODAY), "hours").valve_set == 3000.0
    near = replace(RECORD, hours_h=hours((FITTED, 1000.0), (TODAY, 3100.0)))
    assert part(due_of(near, method, TODAY), "hours").valve_set is None


def test_what_the_method_does_not_limit_is_no_part_and_not_asked_for() -> None:
    intervals = METHOD.intervals.model_copy(update={"distance_km": None, "hours_h": None})
    found = due_of(RECORD, METHOD.model_copy(update={"intervals": intervals}), TODAY)
    assert [part.by for part in found.parts] == ["calendar"]
    assert found.sentences == ()


def test_a_damper_that_does_not_suit_is_told() -> None:
    assert "damper D-1: a rubber damper, and the method is for viscous ones" in due(family="rubber").sentences


def test_a_counter_read_on_two_days_together_tells_no_pace() -> None:
    """Measured again on the next day: as good as read once."""
    found = due(hours_h=hours((FITTED, 1000.0), (FITTED + timedelta(days=1), 1000.0)))
    assert found.state == "unknown"
    assert any("its rate is unknown" in one for one in found.sentences)


def test_two_readings_together_are_no_year() -> None:
    """The pace of a night says nothing of the year before it."""
    before = TODAY - timedelta(days=400)
    found = due(
        fittings=(Fitting(before, "D-1"),),
        hours_h=hours(
            (before, 0.0), (TODAY - timedelta(days=31), 1845.0), (TODAY - timedelta(days=30), 1845.0)
        ),
    )
    assert part(found, "hours").per_day == pytest.approx(5.0, rel=0.01)


def test_a_trend_by_a_counter_that_the_method_does_not_count_by_is_heard_too() -> None:
    """Of months alone; the trend is by the hour meter."""
    intervals = METHOD.intervals.model_copy(update={"hours_h": None, "distance_km": None})
    day = date(2026, 5, 4)
    forward = Forward("GQ-1", NextDue(hours_h=1900.0, date="2027-05-04"), "rim: it rises")
    record = replace(
        RECORD, inspections=(inspected(day, hours_h=1600.0),), forward=forward, hours_h=hours((TODAY, 1910.0))
    )
    found = due_of(record, METHOD.model_copy(update={"intervals": intervals}), TODAY)
    assert found.state == "overdue"
    assert part(found, "hours").at == 1900.0
    assert any("put forward by the trend" in one for one in found.sentences)
