"""What `due` says: a line and a few sentences for each engine, or the same as data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from contract.words import count_of
from grading.programme.due import UNITS, Due, Part
from ringtrue.columned import DASH, cut, sentences, table

if TYPE_CHECKING:
    from config.method import Method


def as_text(dues: Sequence[Due], unknown: Sequence[str], today: date, *, with_all: bool) -> Iterator[str]:
    """The most urgent first. unknown: sentences on what is not in the register. with_all: also those that
    are not due."""
    shown = [due for due in dues if with_all or due.state != "ok"]
    if shown:
        rows = [
            [due.record.engine, cut(due.record.fleet), due.state.replace("-", " "), *_when(due)]
            for due in shown
        ]
        lines = table(["engine", "fleet", "", "day", "by"], rows)
        yield lines[0]
        for due, line in zip(shown, lines[1:], strict=True):
            yield line
            yield from sentences(due.sentences)
            told = [part for part in due.parts if part.state != "ok" or with_all]
            yield from sentences(part_words(part, today) for part in told)
    left = len(dues) - len(shown)
    if left:
        yield f"{count_of(left, 'other engine' if shown else 'engine')} not due yet: --all tells when"
    yield from sentences(unknown, "")


def _when(due: Due) -> tuple[str, str]:
    """The day on which it is due, and by what."""
    day, is_predicted = day_of(due)
    return (f"{'~' if is_predicted else ''}{day}" if day else DASH), by_words(due) or DASH


def day_of(due: Due) -> tuple[date | None, bool]:
    """The day on which it is due by the most urgent count, or by what comes before any; whether it is
    predicted."""
    if _before_any_count(due) is not None:
        return due.day, False
    return (None, False) if due.first is None else (due.first.day, due.first.is_predicted)


def by_words(due: Due) -> str | None:
    """By what it is due, or will be; None where that is not known."""
    if (pressing := _before_any_count(due)) is not None:
        return pressing
    if due.first is None:
        return None
    at = "" if due.first.at is None else f" {_number(due.first.at)} {UNITS[due.first.by]}"
    return f"{due.first.by}{at}"


def _before_any_count(due: Due) -> str | None:
    """What makes it due now, whatever the counters say."""
    if due.events:
        return due.events[-1].trigger
    if due.base.condemned is not None:
        return "verdict replace"
    if due.base.contested is not None:
        return "results contradict"
    if due.base.again is not None and (due.first is None or due.first.state != "overdue"):
        return "measure again"
    return None


def part_words(part: Part, today: date) -> str:
    """One way to be due, in a sentence."""
    if part.by == "calendar":
        days = count_of(abs(round(part.left)), "day")
        left = "today" if not part.left else f"{days} ago" if part.left < 0 else f"in {days}"
        return f"calendar: {part.day}, {left}"
    unit = UNITS[part.by]
    assert part.at is not None
    assert part.last is not None
    said = f"{part.by}: at {_number(part.at)} {unit}; {_number(part.last.value)} on {part.last.day}"
    if part.left <= 0.0:
        return f"{said}, {_number(-part.left)} {unit} over" if part.left else f"{said}, just reached"
    said += f", {_number(part.left)} {unit} left"
    if part.per_day is None:
        return f"{said}; rate unknown"
    said += f", {part.per_day:.3g} {unit} a day"
    if part.day is None:
        return f"{said}: not reached within 20 years"
    said += f": about {part.day}" + (", so read it now" if part.day <= today else "")
    if part.earliest is not None:
        said += f" ({part.earliest} to {part.latest or 'any later'})"
    if part.valve_set is not None:
        said += f"; with the valve set at {_number(part.valve_set)} {unit}"
    return said


def _number(value: float) -> str:
    """Whole, in groups of three."""
    return f"{value:,.0f}".replace(",", " ")


def as_data(dues: Sequence[Due], unknown: Sequence[str], method: Method, today: date) -> dict[str, Any]:
    """All engines as plain data; km, h and days, days as ISO 8601."""
    return {
        "today": today.isoformat(),
        "method": {"id": method.id, "version": method.version, "sha256": method.sha256()},
        "coverage": method.decision.coverage,
        "engines": [_engine(due) for due in dues],
        "notes": list(unknown),
    }


def _engine(due: Due) -> dict[str, Any]:
    base = due.base
    return {
        "engine": due.record.engine,
        "fleet": due.record.fleet,
        "damper": base.damper,
        "state": due.state,
        "day": _iso(due.day),
        "by": _by(due),
        "counts_from": {
            "date": _iso(base.day),
            "inspection": base.inspection.id if base.inspection else None,
        },
        "parts": [_part_data(part) for part in due.parts],
        "events": [
            {"trigger": event.trigger, "date": event.day.isoformat(), "note": event.note}
            for event in due.events
        ],
        "condemned_by": base.condemned.id if base.condemned else None,
        "sentences": list(due.sentences),
    }


def _by(due: Due) -> str | None:
    """What makes it due: an event or a verdict before any count."""
    if due.events:
        return "event"
    if due.base.condemned is not None or due.base.contested is not None:
        return "verdict"
    return due.first.by if due.first else None


def _part_data(part: Part) -> dict[str, Any]:
    unit = UNITS[part.by]
    data = {"by": part.by, "state": part.state, "day": _iso(part.day), f"left_{unit}": part.left}
    if part.by == "calendar":
        return data
    assert part.last is not None
    return data | {
        f"at_{unit}": part.at,
        f"last_{unit}": part.last.value,
        "last_date": part.last.day.isoformat(),
        f"per_day_{unit}": part.per_day,
        "predicted": part.is_predicted,
        "earliest": _iso(part.earliest),
        "latest": _iso(part.latest),
        f"valve_set_{unit}": part.valve_set,
    }


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
