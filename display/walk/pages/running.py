"""Pages while something is measured: what the bay's live figures say, seen from afar, and what to do next."""

from __future__ import annotations

from dataclasses import replace
from math import ceil
from typing import Any

from contract.kinds import takes
from contract.live import Live
from contract.terms import TYPED
from contract.words import count_of
from display.shown import barring_words
from display.walk.page import (
    Act,
    Choice,
    EntryError,
    Field,
    Page,
    Send,
    Turn,
    Values,
    go,
    needed,
    number_of,
    send,
    text_of,
)
from display.walk.pages.opening import LEAVE
from display.walk.place import Place
from display.walk.view import View
from display.walk.words import MARKED, NAMES, TYPED_TURN, UNMARKED, ZERO

ANGLE, VALUE, LOW, HIGH, MARK = "typed.angle", "typed.value", "typed.low", "typed.high", "mark.angle"
STATION, RADIUS = "typed.station", "typed.radius"


def running(view: View, place: Place) -> Page:
    """What runs at the bay, whoever began it."""
    live = view.now
    check = str(live.check)
    page = Page(
        f"run {check} {live.gauge} {place.stage}",
        f"{NAMES.get(check, check)}, {live.gauge}",
        big=None if live.gauge == TYPED else _value(view, live),
        rows=(*_figures(view, live), *(f"! {warning}" for warning in live.warnings)),
    )
    if place.stage == "correct":
        return _correcting(page, view, place, live)
    way = takes(check)
    if way == "turn":
        page = _turning(page, view, place, live)
    elif way == "places":
        page = _places(page, view, place, live)
    else:
        page = _lifting(page, view, place, live)
    what = "test" if check == "lifts" else "sweep"
    ends = (
        Choice("e", f"end this {what}", send("end"), confirm=_too_soon(live)),
        Choice("c", f"cancel this {what}", send("cancel"), confirm=f"Cancel this {what}? It will not count."),
        LEAVE,
    )
    return replace(page, choices=(*page.choices, *ends))


def _value(view: View, live: Live) -> str:
    """The gauge's figure; of one that is not connected, none."""
    gauge = view.gauges.get(live.gauge or "")
    is_there = live.gauge == TYPED or (gauge is not None and gauge.state == "connected")
    if view.away is not None or not is_there or live.value_mm is None:
        return "-"
    return view.unit.number(live.value_mm, sign="+")


def _figures(view: View, live: Live) -> list[str]:
    unit = view.unit
    gauge = view.gauges.get(live.gauge or "")
    rows = []
    if live.gauge != TYPED and gauge is not None and gauge.state != "connected":
        rows.append(f"! {live.gauge} is {gauge.state}: {gauge.reason}")
    if view.away is not None:
        return [*rows, "no figures while the bay is away"]
    # In words too: a figure alone is misread from afar.
    is_above = live.limit_mm is not None and (live.max_deviation_mm or 0.0) > live.limit_mm
    if live.check in ("rim", "face"):
        rows.append(_so_far("run-out so far", view, live))
        if is_above:
            rows.append("ABOVE THE LIMIT")
        rows += barring_words(live)
        if live.gauge == TYPED:
            last = "" if live.value_mm is None else f", the last {unit.number(live.value_mm, sign='+')}"
            rows.append(f"{count_of(live.readings, 'reading')}{last}")
        elif live.angle_deg is not None:
            rows.append(f"crank at {live.angle_deg:.1f}°")
    elif live.check == "thickness":
        rows.append(_so_far("spread so far", view, live))
        if is_above:
            rows.append("ABOVE THE LIMIT")
        if live.next_station_deg is not None:
            rows.append(f"next: {_where(live)}")
        rows.append(count_of(live.readings, "reading"))
    elif live.check == "lifts":
        rows.append(f"{live.lifts or 0} of {live.lifts_wanted} lifts")
        if live.max_deviation_mm is not None:
            rows.append(f"they differ by {unit.length(live.max_deviation_mm)}")
    return rows


def _so_far(what: str, view: View, live: Live) -> str:
    """Against the limit."""
    unit = view.unit
    text = f"{what} {unit.number(live.max_deviation_mm)}"
    if live.limit_mm is None:
        return f"{text} {unit.name}"
    return f"{text}, limit {unit.length(live.limit_mm)}"


def _too_soon(live: Live) -> str | None:
    """What ends by itself and has not is asked about."""
    if live.to_bar_deg:
        left = f"{ceil(live.to_bar_deg)}° are left to bar"
        return f"The turn is not full: {left}. Ended now, it will be invalid. End it?"
    if live.check == "thickness" and live.next_station_deg is not None:
        return "Not every place is measured. Ended now, the check will not count. End it?"
    return None


# -- a turn


def _turning(page: Page, view: View, place: Place, live: Live) -> Page:
    if live.gauge == TYPED:
        return _typed_turn(page, view, place)
    if live.angle_source != "marks":
        return replace(page, says=("Bar on, evenly and one way, until the screen says stop.",))
    if live.next_mark_deg is None:

        def marked(values: Values) -> Act:
            return Send("mark", {"angle_deg": needed(values, MARK, "angle")}, forget=(MARK,))

        return replace(
            page,
            name=f"{page.name} unmarked",
            says=(UNMARKED,),
            fields=(Field(MARK, "angle, degrees", number=True),),
            choices=(Choice("enter", "the crank stands there", marked, main=True),),
        )
    mark = f"the crank stands at {live.next_mark_deg % 360:g}°"
    return replace(
        page, says=(MARKED,), choices=(Choice("enter", mark, send("mark", asks="pressed-twice"), main=True),)
    )


def _dial(values: Values, view: View, *, replaces: bool) -> Send:
    per_unit = view.unit.mm_per
    said: dict[str, Any] = {
        "angle_deg": needed(values, ANGLE, "the angle"),
        "value_mm": needed(values, VALUE, "what the dial shows", per_unit),
        "low_mm": number_of(values, LOW, "lowest", per_unit),
        "high_mm": number_of(values, HIGH, "highest", per_unit),
    }
    arguments = {key: value for key, value in said.items() if value is not None}
    return Send(
        "record",
        arguments | ({"replace": True} if replaces else {}),
        forget=(ANGLE, VALUE, LOW, HIGH),
        then=lambda place, _: replace(place, stage=""),
    )


def _dial_fields(view: View) -> tuple[Field, ...]:
    name = view.unit.name
    return (
        Field(ANGLE, "angle, degrees", number=True),
        Field(VALUE, f"value, {name}", number=True),
        Field(LOW, f"lowest, {name}", "if seen", number=True),
        Field(HIGH, f"highest, {name}", "if seen", number=True),
    )


def _typed_turn(page: Page, view: View, place: Place) -> Page:
    return replace(
        page,
        says=(TYPED_TURN,),
        fields=_dial_fields(view),
        choices=(
            Choice("enter", "record it", lambda values: _dial(values, view, replaces=False), main=True),
            Choice("r", "put a typed one right", go(replace(place, stage="correct"))),
        ),
    )


# -- places and lifts


def _places(page: Page, view: View, place: Place, live: Live) -> Page:
    if live.next_station_deg is None:
        return replace(page, says=("Every place is measured.",))
    is_zero = live.next_radius == "zero" or place.stage == "zero"
    how = ZERO if is_zero else f"Measure at {_where(live)}"
    if live.gauge != TYPED:
        return replace(page, says=(f"{how}, and press the gauge's key.",))

    def record(values: Values) -> Act:
        value_mm = needed(values, VALUE, "what it shows", view.unit.mm_per)
        which: dict[str, Any] = {"radius": "zero"}
        if not is_zero:
            which = {"station_deg": live.next_station_deg, "radius": live.next_radius}
        said = {"check": "thickness", **which, "value_mm": value_mm}
        return Send("record", said, forget=(VALUE,), then=lambda now, _: replace(now, stage=""))

    return replace(
        page,
        says=(f"{how}, and type what it shows.",),
        fields=(Field(VALUE, f"value, {view.unit.name}", number=True),),
        choices=(
            Choice("enter", "record it", record, main=True),
            Choice("r", "put a typed one right", go(replace(place, stage="correct"))),
            *([] if is_zero else [Choice("z", "its zero first", go(replace(place, stage="zero")))]),
        ),
    )


def _where(live: Live) -> str:
    """The place that the next reading is for."""
    if live.next_radius == "zero":
        return "its zero"
    return f"station {live.next_station_deg:g}°, {live.next_radius} radius"


def _lifting(page: Page, view: View, place: Place, live: Live) -> Page:
    page = replace(page, says=(live.next_step or "",))
    if live.gauge != TYPED:
        return page

    def record(values: Values) -> Act:
        value_mm = needed(values, VALUE, "what it shows", view.unit.mm_per)
        return Send("record", {"check": "lifts", "value_mm": value_mm}, forget=(VALUE,))

    return replace(
        page,
        fields=(Field(VALUE, f"value, {view.unit.name}", number=True),),
        choices=(
            Choice("enter", "record it", record, main=True),
            Choice("r", "put the last one right", go(replace(place, stage="correct"))),
        ),
    )


# -- what was typed wrong


def _correcting(page: Page, view: View, place: Place, live: Live) -> Page:
    """The place of what was typed wrong, and what is right; the old one stays on record."""
    way, per_unit, unit = takes(str(live.check)), view.unit.mm_per, view.unit.name
    fields: tuple[Field, ...] = (Field(VALUE, f"value, {unit}", "what is right", number=True),)

    def corrected(values: Values) -> Act:
        if way == "turn":
            return _dial(values, view, replaces=True)
        said: dict[str, Any] = {"check": live.check, "replace": True}
        if way == "places":
            said["radius"] = _radius(values)
            if said["radius"] != "zero":
                said["station_deg"] = needed(values, STATION, "the station")
        said["value_mm"] = needed(values, VALUE, "what is right", per_unit)
        forget = VALUE, STATION, RADIUS
        return Send("record", said, forget=forget, then=lambda now, _: replace(now, stage=""))

    if way == "turn":
        fields = _dial_fields(view)
    elif way == "places":
        fields = (
            Field(STATION, "station, degrees", number=True),
            Field(RADIUS, "radius", "o, i or z (zero)"),
            *fields,
        )
    back = replace(place, stage="")
    return replace(
        page,
        title=f"put right: {page.title}",
        says=("Which one was typed wrong, and what is right? The old one stays on record.",),
        fields=fields,
        choices=(
            Choice("enter", "put it right", corrected, main=True),
            Choice("esc", "back", lambda _: Turn(back)),
        ),
    )


def _radius(values: Values) -> str:
    said = text_of(values, RADIUS, "the radius, o or i").lower()
    for radius in ("outer", "inner", "zero"):
        if radius.startswith(said):
            return radius
    raise EntryError(RADIUS, "the radius is o for outer, i for inner, or z for its zero")
