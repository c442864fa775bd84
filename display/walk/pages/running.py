"""Pages while something is measured: what the bay's live figures say, seen from afar, and what to do next."""

from __future__ import annotations

from dataclasses import replace
from math import ceil
from typing import Any, get_args

from contract.kinds import takes
from contract.live import BesidePart, Live
from contract.terms import TYPED, MicrometerAt
from display.shown import barring_words
from display.told import told
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
from display.walk.pages.beginning import connected_for
from display.walk.pages.opening import leave
from display.walk.place import Place
from display.walk.view import View, checks_of
from display.walk.words import AT_ZERO, DEAF, DWELLED, MARKED, NAMES, NOT_ZEROED, TURNED, TYPED_TURN, UNMARKED
from display.words import Text

ANGLE, VALUE, LOW, HIGH, MARK = "typed.angle", "typed.value", "typed.low", "typed.high", "mark.angle"
# Degrees left to bar beyond which another turn is.
TURN_DEG = 370.0
STATION, RADIUS = "typed.station", "typed.radius"


def running(view: View, place: Place) -> Page:
    """What runs at the bay, whoever began it."""
    live, say = view.now, view.words.say
    check, language = str(live.check), view.words.language
    gauge = say(TYPED) if live.gauge == TYPED else live.gauge
    page = Page(
        f"run {check} {live.gauge} {place.stage}",
        f"{say(NAMES.get(check, check))}, {gauge}",
        big=None if live.gauge == TYPED else _value(view, live),
        rows=(*_figures(view, live), *(f"! {told(one, language)}" for one in live.warnings)),
    )
    if place.stage == "correct":
        return _correcting(page, view, place, live)
    way = takes(check)
    if way == "turn":
        page = _turning(page, view, place, live)
        page = replace(page, choices=(*page.choices, *_more(view, place, live)))
    elif way == "places":
        page = _places(page, view, place, live)
    else:
        page = _lifting(page, view, place, live)
    if check == "lifts":
        end, cancel = say("end this test"), say("cancel this test")
        sure = say("Cancel this test? It will not count.")
    else:
        end, cancel = say("end this sweep"), say("cancel this sweep")
        sure = say("Cancel this sweep? It will not count.")
    ends = (
        Choice("e", end, send("end"), confirm=_too_soon(view, live)),
        Choice("c", cancel, send("cancel"), confirm=sure),
        leave(view),
    )
    return replace(page, choices=(*page.choices, *ends))


def _more(view: View, place: Place, live: Live) -> list[Choice]:
    """The other surface, with another gauge that is connected, in the same turns."""
    result = view.result_of(place.inspection)
    others = [check for check in ("rim", "face") if check != live.check]
    needed_yet = [one for one in others if result is not None and one in checks_of(result)]
    free = [gauge for gauge in connected_for(view, "rim") if gauge != live.gauge]
    if live.beside or live.gauge == TYPED or view.away is not None or not needed_yet or not free:
        return []
    turns = {"turns": 2} if (live.to_bar_deg or 0.0) > TURN_DEG else {}
    other = needed_yet[0]
    label = view.words.say(
        "begin {check} too, with {gauge}", check=view.words.say(NAMES[other]), gauge=free[0]
    )
    return [Choice("b", label, send("begin", arguments={"check": other, "gauge": free[0], **turns}))]


def _value(view: View, live: Live) -> str:
    """The gauge's figure; of one that is not connected, none."""
    gauge = view.gauges.get(live.gauge or "")
    is_there = live.gauge == TYPED or (gauge is not None and gauge.state == "connected")
    if view.away is not None or not is_there or live.value_mm is None:
        return "-"
    return view.unit.number(live.value_mm, sign="+")


def _figures(view: View, live: Live) -> list[str]:
    unit, words, say = view.unit, view.words, view.words.say
    gauge = view.gauges.get(live.gauge or "")
    rows = []
    if live.gauge != TYPED and gauge is not None and gauge.state != "connected":
        state, why = say(gauge.state), told(gauge.reason, words.language)
        rows.append(say("! {gauge} is {state}: {why}", gauge=live.gauge, state=state, why=why))
    if view.away is not None:
        return [*rows, say("no figures while the bay is away")]
    # In words too: a figure alone is misread from afar.
    is_above = live.limit_mm is not None and (live.max_deviation_mm or 0.0) > live.limit_mm
    if live.check in ("rim", "face"):
        rows.append(say("run-out so far {figure}", figure=_so_far(view, live)))
        if is_above:
            rows.append(say("ABOVE THE LIMIT"))
        for beside in live.beside:
            rows += _beside(view, beside)
        rows += () if view.is_deaf else barring_words(live, words)
        if live.gauge == TYPED:
            readings = words.count(live.readings, "reading")
            if live.value_mm is not None:
                last = unit.number(live.value_mm, sign="+")
                readings = say("{readings}, the last {value}", readings=readings, value=last)
            rows.append(readings)
        elif live.angle_deg is not None:
            rows.append(say("crank at {deg}°", deg=f"{live.angle_deg:.1f}"))
    elif live.check == "thickness":
        rows.append(say("spread so far {figure}", figure=_so_far(view, live)))
        if is_above:
            rows.append(say("ABOVE THE LIMIT"))
        if live.next_station_deg is not None:
            rows.append(say("next: {where}", where=_where(view, live)))
        rows.append(words.count(live.readings, "reading"))
    elif live.check == "lifts":
        rows.append(say("{n} of {all} lifts", n=live.lifts or 0, all=live.lifts_wanted))
        if live.max_deviation_mm is not None:
            rows.append(say("they differ by {length}", length=unit.length(live.max_deviation_mm)))
    return rows


def _beside(view: View, beside: BesidePart) -> list[str]:
    """What runs beside it: by which gauge, how it stands, and its run-out so far."""
    say, state = view.words.say, view.gauges.get(beside.gauge)
    rows = []
    if beside.gauge != TYPED and state is not None and state.state != "connected":
        what, why = say(state.state), told(state.reason, view.words.language)
        rows.append(say("! {gauge} is {state}: {why}", gauge=beside.gauge, state=what, why=why))
    name = say("opposite") if beside.opposite else say(NAMES.get(beside.check, beside.check))
    gauge = say(TYPED) if beside.gauge == TYPED else beside.gauge
    so_far = _so_far(view, beside)
    rows.append(say("{name}, {gauge}: run-out so far {figure}", name=name, gauge=gauge, figure=so_far))
    if beside.limit_mm is not None and (beside.max_deviation_mm or 0.0) > beside.limit_mm:
        rows.append(say("ABOVE THE LIMIT"))
    return rows


def _so_far(view: View, live: Live | BesidePart) -> str:
    """Against the limit."""
    unit, so_far = view.unit, view.unit.number(live.max_deviation_mm)
    if live.limit_mm is None:
        return f"{so_far} {unit.name}"
    return view.words.say("{figure}, limit {limit}", figure=so_far, limit=unit.length(live.limit_mm))


def _too_soon(view: View, live: Live) -> str | None:
    """What ends by itself and has not is asked about."""
    say = view.words.say
    if live.to_bar_deg:
        return say(
            "The turn is not full: {deg}° are left to bar. Ended now, it will be invalid. End it?",
            deg=ceil(live.to_bar_deg),
        )
    if live.check == "thickness" and live.next_station_deg is not None:
        return say("Not every place is measured. Ended now, the check will not count. End it?")
    return None


# -- a turn


def _turning(page: Page, view: View, place: Place, live: Live) -> Page:
    say = view.words.say
    if live.gauge == TYPED:
        return _typed_turn(page, view, place)
    if view.is_deaf:
        return replace(page, says=(say(DEAF),))
    if live.angle_source not in ("marks", "dwells"):
        on = say("Bar on, evenly and one way, until the screen says stop.")
        if live.next_mark_deg is not None:
            return replace(page, says=(on, say("Next stop at {deg}°.", deg=f"{live.next_mark_deg % 360:g}")))
        if live.angle_zero != "encoder":
            return replace(page, says=(on,))
        return replace(page, says=(on, say(NOT_ZEROED)), choices=(Choice("z", say(AT_ZERO), send("zero")),))
    if live.next_mark_deg is None:

        def marked(values: Values) -> Act:
            return Send("mark", {"angle_deg": needed(values, MARK, Text("angle"))}, forget=(MARK,))

        return replace(
            page,
            name=f"{page.name} unmarked",
            says=(say(UNMARKED),),
            fields=(Field(MARK, say("angle, degrees"), number=True),),
            choices=(Choice("enter", say("the crank stands there"), marked, main=True),),
        )
    mark = say("the crank stands at {deg}°", deg=f"{live.next_mark_deg % 360:g}")
    asked = send("mark", asks="pressed-twice", question=say(TURNED))
    return replace(
        page,
        says=(say(DWELLED if live.angle_source == "dwells" else MARKED),),
        choices=(Choice("enter", mark, asked, main=True),),
    )


def _dial(values: Values, view: View, *, replaces: bool) -> Send:
    per_unit = view.unit.mm_per
    said: dict[str, Any] = {
        "check": view.now.check,
        "angle_deg": needed(values, ANGLE, Text("the angle")),
        "value_mm": needed(values, VALUE, Text("what the dial shows"), per_unit),
        "low_mm": number_of(values, LOW, Text("lowest"), per_unit),
        "high_mm": number_of(values, HIGH, Text("highest"), per_unit),
    }
    arguments = {key: value for key, value in said.items() if value is not None}
    return Send(
        "record",
        arguments | ({"replace": True} if replaces else {}),
        forget=(ANGLE, VALUE, LOW, HIGH),
        then=lambda place, _: replace(place, stage=""),
    )


def _dial_fields(view: View) -> tuple[Field, ...]:
    unit, say = view.unit.name, view.words.say
    return (
        Field(ANGLE, say("angle, degrees"), number=True),
        Field(VALUE, say("value, {unit}", unit=unit), number=True),
        Field(LOW, say("lowest, {unit}", unit=unit), say("if seen"), number=True),
        Field(HIGH, say("highest, {unit}", unit=unit), say("if seen"), number=True),
    )


def _typed_turn(page: Page, view: View, place: Place) -> Page:
    say = view.words.say
    return replace(
        page,
        says=(say(TYPED_TURN),),
        fields=_dial_fields(view),
        choices=(
            Choice("enter", say("record it"), lambda values: _dial(values, view, replaces=False), main=True),
            Choice("r", say("put a typed one right"), go(replace(place, stage="correct"))),
        ),
    )


# -- places and lifts


def _places(page: Page, view: View, place: Place, live: Live) -> Page:
    say = view.words.say
    if live.next_station_deg is None:
        return replace(page, says=(say("Every place is measured."),))
    is_zero, where = live.next_radius == "zero" or place.stage == "zero", _where(view, live)
    if live.gauge != TYPED:
        how = say("Measure at {where}, and press the gauge's key.", where=where)
        if is_zero:
            how = say("Close the micrometer, or put it on its setting standard, and press the gauge's key.")
        return replace(page, says=(how,))
    how = say("Measure at {where}, and type what it shows.", where=where)
    if is_zero:
        how = say("Close the micrometer, or put it on its setting standard, and type what it shows.")

    def record(values: Values) -> Act:
        value_mm = needed(values, VALUE, Text("what it shows"), view.unit.mm_per)
        which: dict[str, Any] = {"radius": "zero"}
        if not is_zero:
            which = {"station_deg": live.next_station_deg, "radius": live.next_radius}
        said = {"check": "thickness", **which, "value_mm": value_mm}
        return Send("record", said, forget=(VALUE,), then=lambda now, _: replace(now, stage=""))

    return replace(
        page,
        says=(how,),
        fields=(Field(VALUE, say("value, {unit}", unit=view.unit.name), number=True),),
        choices=(
            Choice("enter", say("record it"), record, main=True),
            Choice("r", say("put a typed one right"), go(replace(place, stage="correct"))),
            *([] if is_zero else [Choice("z", say("its zero first"), go(replace(place, stage="zero")))]),
        ),
    )


def _where(view: View, live: Live) -> str:
    """The place that the next reading is for."""
    say = view.words.say
    if live.next_radius == "zero" or live.next_radius is None:
        return say("its zero")
    deg, radius = f"{live.next_station_deg:g}", say(live.next_radius)
    return say("station {deg}°, {radius} radius", deg=deg, radius=radius)


def _lifting(page: Page, view: View, place: Place, live: Live) -> Page:
    say = view.words.say
    page = replace(page, says=(told(live.next_step or "", view.words.language),))
    if live.gauge != TYPED:
        return page

    def record(values: Values) -> Act:
        value_mm = needed(values, VALUE, Text("what it shows"), view.unit.mm_per)
        return Send("record", {"check": "lifts", "value_mm": value_mm}, forget=(VALUE,))

    return replace(
        page,
        fields=(Field(VALUE, say("value, {unit}", unit=view.unit.name), number=True),),
        choices=(
            Choice("enter", say("record it"), record, main=True),
            Choice("r", say("put the last one right"), go(replace(place, stage="correct"))),
        ),
    )


# -- what was typed wrong


def _correcting(page: Page, view: View, place: Place, live: Live) -> Page:
    """The place of what was typed wrong, and what is right; the old one stays on record."""
    way, per_unit, say = takes(str(live.check)), view.unit.mm_per, view.words.say
    right = Field(VALUE, say("value, {unit}", unit=view.unit.name), say("what is right"), number=True)
    fields: tuple[Field, ...] = (right,)

    def corrected(values: Values) -> Act:
        if way == "turn":
            return _dial(values, view, replaces=True)
        said: dict[str, Any] = {"check": live.check, "replace": True}
        if way == "places":
            said["radius"] = _radius(view, values)
            if said["radius"] != "zero":
                said["station_deg"] = needed(values, STATION, Text("the station"))
        said["value_mm"] = needed(values, VALUE, Text("what is right"), per_unit)
        forget = VALUE, STATION, RADIUS
        return Send("record", said, forget=forget, then=lambda now, _: replace(now, stage=""))

    if way == "turn":
        fields = _dial_fields(view)
    elif way == "places":
        fields = (
            Field(STATION, say("station, degrees"), number=True),
            Field(RADIUS, say("radius"), say("o, i or z (zero)"), options=get_args(MicrometerAt)),
            *fields,
        )
    back = replace(place, stage="")
    return replace(
        page,
        title=say("put right: {what}", what=page.title),
        says=(say("Which one was typed wrong, and what is right? The old one stays on record."),),
        fields=fields,
        choices=(
            Choice("enter", say("put it right"), corrected, main=True),
            Choice("esc", say("back"), lambda _: Turn(back)),
        ),
    )


def _radius(view: View, values: Values) -> str:
    said = text_of(values, RADIUS, Text("the radius, o or i"))
    radius = view.words.begun(said, get_args(MicrometerAt))
    if radius is None:
        raise EntryError(RADIUS, Text("the radius is o for outer, i for inner, or z for its zero"))
    return radius
