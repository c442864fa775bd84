"""The days on which engines are due as a calendar that other programs subscribe to or import (RFC 5545)."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime
from uuid import UUID, uuid5

from icalendar import Calendar, Event

from grading.programme.due import UNITS, Due

DAYS_OF = UUID("5a0e64c2-6a5e-4d51-9c0b-0d8a52a9f7de")
"""Whence each engine's UID is made (RFC 9562, 5.5), so that it is the same each time: a calendar written
again moves the engine's day, and adds none."""


def as_calendar(dues: Iterable[Due], now: datetime) -> bytes:
    """An all-day event for each engine that has a day; what is overdue stands on today, where it is seen.

    now: with its zone. SEQUENCE counts minutes, so that of two calendars the later one is believed.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//ringtrue//due//EN")
    calendar.add("version", "2.0")
    calendar.add("name", "Damper inspections")
    for due in dues:
        day = due.day if due.state in ("due-soon", "ok") else now.date()
        if day is None:
            continue
        event = Event()
        event.add("uid", str(uuid5(DAYS_OF, due.record.engine)))
        event.add("dtstamp", now.astimezone(UTC))
        event.add("sequence", int(now.timestamp()) // 60)
        event.add("dtstart", max(day, now.date()))
        event.add("summary", _summary(due))
        event.add("description", "\n".join((*due.sentences, *_days(due, now.date()))))
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _summary(due: Due) -> str:
    fleet = f" ({due.record.fleet})" if due.record.fleet else ""
    state = "" if due.state == "ok" else f", {due.state.replace('-', ' ')}"
    return f"Damper inspection: {due.record.engine}{fleet}{state}"


def _days(due: Due, today: date) -> Iterable[str]:
    """Each way to be due, with its day."""
    for part in due.parts:
        at = "" if part.at is None else f" at {part.at:,.0f} {UNITS[part.by]}".replace(",", " ")
        about = "about " if part.is_predicted else ""
        ago = ", which is past" if part.day is not None and part.day < today else ""
        never = "day not known" if part.per_day is None else "not reached within 20 years"
        yield f"{part.by}{at}: {about}{part.day}{ago}" if part.day else f"{part.by}{at}: {never}"
