"""Whether an engine is due for an inspection: by distance, hours, calendar or an event."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from config.method import Method
from config.programme import Intervals, Programme
from contract.result import NextDue
from grading.programme.base import Base, base_of, open_events
from grading.programme.counters import Reading, Series, pace_of, reached, series_of
from grading.programme.order import contradicted
from grading.programme.record import EngineRecord, Event
from grading.programme.schedule import earlier, next_due
from grading.programme.suitability import unsuitable

By = Literal["distance", "hours", "calendar"]
DueState = Literal["overdue", "due", "unknown", "due-soon", "ok"]
"""Of an engine, the most urgent first. `due`: now, by an event or by a verdict; `unknown`: nothing on record
says since when its intervals count, or how far a counter has come."""
STATES: tuple[DueState, ...] = ("overdue", "due", "unknown", "due-soon", "ok")
COUNTERS: dict[By, str] = {"distance": "the odometer", "hours": "the hour meter"}
UNITS: dict[By, str] = {"distance": "km", "hours": "h", "calendar": "days"}


@dataclass(frozen=True, slots=True)
class Part:
    """One of the three ways to be due.

    at: what the counter will show; None of the calendar. last: its last reading. left: km, h or days from
    there, below zero once it is passed. per_day: its pace, None where it is not known. day: when it is (or
    was) reached; None where that cannot be told. is_predicted: by the pace, between earliest and latest.
    valve_set: what the counter shows at the valve set with which it falls together.
    """

    by: By
    state: DueState
    left: float
    at: float | None = None
    last: Reading | None = None
    per_day: float | None = None
    day: date | None = None
    is_predicted: bool = False
    earliest: date | None = None
    latest: date | None = None
    valve_set: float | None = None


@dataclass(frozen=True, slots=True)
class Due:
    """What there is to say of one engine. first: the most urgent part. day: the earliest that is known;
    today where an event or a verdict makes it due. sentences: why, and what is amiss on record."""

    record: EngineRecord
    base: Base
    state: DueState
    parts: tuple[Part, ...]
    first: Part | None
    day: date | None
    events: tuple[Event, ...]
    sentences: tuple[str, ...]


def due_of(record: EngineRecord, method: Method, today: date) -> Due:
    """Whether an engine is due today, and when it will be."""
    record, ahead = record.until(today)
    base = base_of(record)
    events = open_events(record, base)
    sentences = [*_pressing(base, events, method.programme), *base.sentences]
    sentences += [
        f"inspection {one.id} is of {one.day}, which has not come: it does not count; set that bay's clock"
        if one not in record.inspections
        else f"inspection {one.id} is of {one.day}, which has not come: set that bay's clock"
        for one in ahead
    ]
    counters: dict[By, Series] = {}
    if method.intervals.distance_km is not None:
        counters["distance"] = series_of(record.distance_km)
    if method.intervals.hours_h is not None:
        counters["hours"] = series_of(record.hours_h)
    parts: list[Part] = []
    doubtful = base.day is None
    if base.day is None:
        sentences.append(
            "neither an inspection that counts nor the fitting of its damper is on record: inspect it, or "
            "import the fitting"
        )
    else:
        starts = {by: _start(base, base.day, by, series) for by, series in counters.items()}
        at = next_due(
            method.intervals, inspected=base.day if base.used is None else base.used.day,
            distance_km=_value(starts.get("distance")), hours_h=_value(starts.get("hours")),
        )  # fmt: skip
        if base.used is not None and at.date is not None:
            sentences.append(
                f"damper {base.damper} was used before: its calendar counts from inspection "
                f"{base.used.id} of {base.used.day}"
            )
        forward = record.forward
        if forward is not None and base.inspection is not None and base.inspection.id == forward.inspection:
            at = earlier(at, forward.due)
            sentences.append(f"put forward by the trend of its figures: {forward.why} (see history)")
        told = {**counters}  # a trend may be by a counter that the method has no interval of
        if at.distance_km is not None:
            told.setdefault("distance", series_of(record.distance_km))
        if at.hours_h is not None:
            told.setdefault("hours", series_of(record.hours_h))
        parts = list(_parts(told, at, method, today))
        for by, series in counters.items():
            sentences += _amiss(by, series, starts[by], base.day, method.programme.rate_days)
        doubtful = _is_doubtful(counters, starts, method.programme, today)
    reason = unsuitable(
        method.suitability, family=record.family, construction=record.construction, rating_kw=record.rating_kw
    )
    if record.fitted is not None and reason is not None:
        sentences.append(f"damper {record.fitted.damper}: {reason.reason}")
    first = _first(parts)
    found: set[DueState] = {part.state for part in parts}
    is_pressed = bool(events) or base.is_pressing
    if is_pressed:
        found.add("due")
    if doubtful or not parts:
        found.add("unknown")
    state = next(state for state in STATES if state in found)
    days = [part.day for part in parts if part.day is not None]
    day = today if is_pressed else min(days, default=None)
    return Due(record, base, state, tuple(parts), first, day, tuple(events), tuple(sentences))


def _is_doubtful(
    counters: Mapping[By, Series], starts: Mapping[By, Reading | None], programme: Programme, today: date
) -> bool:
    """Whether a counter may have come further than anyone can tell: it contradicts itself, was not read when
    its interval began, or tells no pace and was read last more than `soon_days` ago. One that is never read
    is left to the other, but one of them must be."""
    stale = today - timedelta(days=programme.soon_days)
    if counters and not any(series.readings or series.fall for series in counters.values()):
        return True
    return any(
        series.fall is not None
        or (len(series.readings) > 0 and starts[by] is None)
        or (
            len(series.readings) > 0
            and series.readings[-1].day < stale
            and pace_of(series.readings, programme.rate_days) is None
        )
        for by, series in counters.items()
    )


def _pressing(base: Base, events: Sequence[Event], programme: Programme) -> Iterator[str]:
    """What makes it due at once."""
    if base.condemned is not None:
        one = base.condemned
        yield (
            f"inspection {one.id} of {one.day} ended in replace: fit another damper and import its fitting, "
            "or inspect again what was cleaned and refitted"
            if one.state != "abandoned"
            else f"inspection {one.id} of {one.day} was closed with replace, then given up: fit another "
            "damper and import its fitting, or inspect again what was cleaned and refitted"
        )
    if base.again is not None:
        one = base.again
        yield (
            f"inspection {one.id} of {one.day} ended in measure-again and does not count: measure again"
            if one.state != "abandoned"
            else f"inspection {one.id} of {one.day} was closed with measure-again, then given up: "
            "measure again"
        )
    if base.contested is not None:
        yield contradicted(base.contested.id, base.contested.contested or "")
    texts = {trigger.id: trigger.text for trigger in programme.trigger}
    for event in events:
        note = f" ({event.note})" if event.note else ""
        yield f"{event.day}: {texts.get(event.trigger, event.trigger)}{note}: inspect it before it runs on"


def _start(base: Base, day: date, by: By, series: Series) -> Reading | None:
    """The counter from which the interval counts: the inspection's own, else the last one read until then,
    which may be lower and lets the interval end too soon rather than too late."""
    own = None
    if base.inspection is not None:
        one = base.inspection
        own = one.distance_km if by == "distance" else one.hours_h
        left_out = {reading.inspection for reading in series.left_out}
        if own is not None and one.id not in left_out:
            return Reading(one.day, own, one.id)
    return series.until(day)


def _value(start: Reading | None) -> float | None:
    return None if start is None else start.value


def _amiss(by: By, series: Series, start: Reading | None, day: date, rate_days: int) -> Iterator[str]:
    """What cannot be told of a counter, or is told from little."""
    counter, unit = COUNTERS[by], UNITS[by]

    def read(one: Reading) -> str:
        whose = f", inspection {one.inspection}" if one.inspection is not None else ""
        return f"{one.value:.15g} {unit} ({one.day}{whose})"

    if series.fall is not None:
        before, after = map(read, series.fall)
        yield f"{counter} falls from {before} to {after}: import the true reading of one of these days"
        return
    for one in series.left_out:
        yield f"{counter} at {read(one)} contradicts the register: left out"
    if not series.readings:
        yield f"no reading of {counter} is on record"
    elif start is None:
        yield f"{counter} was not read until {day}, from which it counts: import a reading of that day"
    elif pace_of(series.readings, rate_days) is None:
        first, last = series.readings[0].day, series.readings[-1].day
        when = f"on {first}" if first == last else f"from {first} to {last}"
        yield f"{counter} was read {when} only, so its rate is unknown: import another reading"
    elif start.day < day:
        yield f"{counter} counts from {read(start)}: no reading of {day} is on record"


def _parts(counters: Mapping[By, Series], at: NextDue, method: Method, today: date) -> Iterator[Part]:
    intervals, programme = method.intervals, method.programme
    if at.distance_km is not None and counters["distance"].readings:
        yield _counted(
            "distance", at.distance_km, intervals.distance_km, intervals.valve_set_distance_km,
            counters["distance"].readings, method, today,
        )  # fmt: skip
    if at.hours_h is not None and counters["hours"].readings:
        yield _counted(
            "hours", at.hours_h, intervals.hours_h, intervals.valve_set_hours_h,
            counters["hours"].readings, method, today,
        )  # fmt: skip
    if at.date is not None:
        day = date.fromisoformat(at.date)
        left = (day - today).days
        soon = left <= max(programme.soon_days, programme.soon_share * _calendar_days(intervals))
        state: DueState = "overdue" if left < 0 else "due" if left == 0 else "due-soon" if soon else "ok"
        yield Part("calendar", state, float(left), day=day)


def _calendar_days(intervals: Intervals) -> float:
    return (intervals.months or 0) * 365.25 / 12.0


def _counted(
    by: By, at: float, interval: float | None, valve_set: float | None,
    readings: Sequence[Reading], method: Method, today: date,
) -> Part:  # fmt: skip
    """By a counter. What is left today is told by its pace where that is known."""
    last, programme = readings[-1], method.programme
    pace = pace_of(readings, programme.rate_days)
    per_day = None if pace is None else pace.per_day
    left = at - last.value
    together = None
    if valve_set is not None:
        before = math.floor(at / valve_set) * valve_set
        together = before if before > last.value else None
    if left <= 0.0:
        passed = next(one.day for one in readings if one.value >= at)
        state: DueState = "overdue" if left < 0.0 else "due"
        return Part(by, state, left, at, last, per_day, passed)
    when = None if pace is None else reached(last, pace, at, method.decision.coverage)
    day = None if when is None else when.day
    left_today = left - (per_day or 0.0) * max(0, (today - last.day).days)
    if day is not None and day <= today:
        state = "overdue" if day < today else "due"
    elif (day is not None and day <= today + timedelta(days=programme.soon_days)) or (
        left_today <= programme.soon_share * (interval or 0.0)
    ):
        state = "due-soon"
    else:
        state = "ok"
    return Part(
        by, state, left, at, last, per_day, day, day is not None,
        None if when is None else when.earliest, None if when is None else when.latest, together,
    )  # fmt: skip


def _first(parts: Sequence[Part]) -> Part | None:
    """The most urgent one, and of those the one that comes first."""
    order = [(STATES.index(part.state), part.day or date.max, index) for index, part in enumerate(parts)]
    return parts[min(order)[2]] if order else None
