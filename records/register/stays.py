"""On which engine each damper was from when to when, and what happened to it there."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time

from grading.programme.record import Event, Fitting, Inspected
from records.register.columns import Row


@dataclass(frozen=True, slots=True)
class Stay:
    """A damper on an engine. last: the day on which the one that came after it was fitted there, or itself
    elsewhere."""

    engine: str
    first: date
    last: date


def stays_of(rows: Iterable[Row]) -> Mapping[str, list[Stay]]:
    """Of each damper in the order of their days; where it was fitted again to the engine that it was on,
    this is one stay."""
    found: dict[str, list[Stay]] = defaultdict(list)
    on: dict[str, str] = {}
    at: dict[str, str] = {}

    def end(damper: str, day: date) -> None:
        found[damper][-1] = replace(found[damper][-1], last=day)
        del on[at.pop(damper)]

    for row in sorted(rows, key=lambda row: str(row["date"])):
        engine, damper, day = str(row["engine"]), str(row["damper"]), day_of(row["date"])
        if on.get(engine) == damper:
            continue
        if engine in on:
            end(on[engine], day)
        if damper in at:
            end(damper, day)
        on[engine], at[damper] = damper, engine
        found[damper].append(Stay(engine, day, date.max))
    return found


def fittings_of(engine: str, rows: Iterable[Row], stays: Mapping[str, list[Stay]]) -> list[Fitting]:
    """Of an engine, oldest first. A damper that is fitted again where it was is no other: its intervals and
    what happened to it go on."""
    all_of = (Fitting(day_of(row["date"]), str(row["damper"])) for row in rows)
    return [
        one
        for one in all_of
        if any((engine, one.day) == (its.engine, its.first) for its in stays[one.damper])
    ]


def brought(
    fitted: Fitting,
    stays: Mapping[str, list[Stay]],
    happened: Mapping[str, list[Event]],
    looked: Iterable[tuple[str, Inspected]],
) -> Iterator[Event]:
    """What happened to a damper where it was before, and no inspection that ended in keep has followed: it
    comes with it, on the day of its fitting."""
    own = [one for _, one in looked if one.damper == fitted.damper]
    kept = [one for one in own if one.is_done and one.ended == "keep" and one.contested is None]
    for stay in stays[fitted.damper][:-1]:
        for event in happened.get(stay.engine, ()):
            if stay.first <= event.day <= stay.last and not any(one.opened > event.moment for one in kept):
                note = f"on {stay.engine} on {event.day}, with this damper"
                note += f": {event.note}" if event.note else ""
                yield replace(event, day=fitted.day, note=note)


def day_of(cell: object) -> date:
    """A day of the register."""
    return date.fromisoformat(str(cell))


def event_of(row: Row) -> Event:
    """One of which only the day is known may have happened until that day's end, by the clock of here."""
    text, trigger, note = str(row["date"]), str(row["trigger"]), str(row["note"] or "")
    if "T" not in text:
        day = date.fromisoformat(text)
        return Event(trigger, day, datetime.combine(day, time.max).astimezone(), note)
    moment = datetime.fromisoformat(text)
    return Event(trigger, moment.astimezone().date(), moment, note)
