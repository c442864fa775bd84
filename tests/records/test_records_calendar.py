"""The calendar, read again by another library than the one that wrote it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from ical.calendar import Calendar
from ical.calendar_stream import IcsCalendarStream
from icalendar import Calendar as Written

from config.files import shipped
from config.method import Method
from config.toml import read_toml
from grading.programme.counters import Reading
from grading.programme.due import Due, due_of
from grading.programme.record import EngineRecord, Event, Fitting
from records.calendar import as_calendar

METHOD = read_toml(shipped("methods", "example"), Method)
NOW = datetime(2026, 7, 6, 9, 30, tzinfo=UTC)
RECORD = EngineRecord(
    engine="GQ-E-2207",
    fleet='truck 14; the one, "big" one',
    fittings=(Fitting(date(2026, 1, 5), "D-1"),),
    hours_h=(Reading(date(2026, 1, 5), 1000.0), Reading(date(2026, 7, 6), 1910.0)),
)


def due(record: EngineRecord = RECORD) -> Due:
    return due_of(record, METHOD, NOW.date())


def read(*dues: Due, now: datetime = NOW) -> Calendar:
    calendar = IcsCalendarStream.calendar_from_ics(as_calendar(dues, now).decode())
    assert calendar.prodid == "-//ringtrue//due//EN"
    return calendar


def test_each_engine_has_a_whole_day_on_which_it_is_due() -> None:
    (event,) = read(due()).events
    assert event.dtstart == date(2027, 1, 5)
    assert event.summary == 'Damper inspection: GQ-E-2207 (truck 14; the one, "big" one)'
    assert event.description is not None
    assert event.description.splitlines() == [
        "no reading of the odometer is on record",
        "hours at 4 000 h: about 2027-08-28",
        "calendar: 2027-01-05",
    ]


def test_what_is_overdue_stands_on_the_day_of_writing_and_says_so() -> None:
    long_ago = replace(RECORD, fittings=(Fitting(date(2025, 1, 6), "D-1"),), hours_h=())
    pressed = replace(RECORD, engine="E-2", events=(Event("impact", NOW.date(), NOW),))
    events = read(due(long_ago), due(pressed)).events
    assert [event.dtstart for event in events] == [NOW.date()] * 2
    assert str(events[0].summary).endswith(", overdue")
    assert "calendar: 2026-01-06, which is past" in str(events[0].description)
    assert str(events[1].summary).endswith(", due")


def test_an_engine_without_a_day_is_told_today() -> None:
    (event,) = read(due(replace(RECORD, fittings=(), hours_h=()))).events
    assert (event.dtstart, str(event.summary)[-9:]) == (NOW.date(), ", unknown")


def test_written_again_it_is_the_same_event_later() -> None:
    (first,) = read(due()).events
    later = replace(RECORD, fittings=(Fitting(date(2026, 7, 6), "D-2"),))
    (second,) = read(due(later), now=NOW + timedelta(minutes=1)).events
    assert first.uid == second.uid
    assert second.dtstart != first.dtstart
    assert (second.sequence or 0) > (first.sequence or 0)
    (other,) = read(due(replace(RECORD, engine="E-2"))).events
    assert other.uid != first.uid


def test_lines_are_folded_and_end_as_the_standard_asks() -> None:
    """RFC 5545, 3.1: lines of at most 75 octets, each ended by CR LF."""
    raw = as_calendar([due()], NOW)
    assert raw.endswith(b"END:VCALENDAR\r\n")
    assert max(len(line) for line in raw.split(b"\r\n")) <= 75
    assert b"\n" not in raw.replace(b"\r\n", b"")
    assert len(Written.from_ical(raw).walk("VEVENT")) == 1
