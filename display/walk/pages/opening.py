"""Pages before an inspection is this screen's: waiting, opening one, joining one that is open."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, get_args

from contract.result import Result
from contract.terms import Construction, Family
from display.shown import method_words
from display.walk.page import (
    Act,
    Choice,
    Field,
    Leave,
    Page,
    Send,
    Turn,
    Values,
    go,
    number_of,
    send,
    text_of,
)
from display.walk.place import Place
from display.walk.view import View
from display.words import Text

ENGINE, DAMPER, HOURS, DISTANCE = "open.engine", "open.damper", "open.hours", "open.distance"
ORDER, CONSTRUCTION, FAMILY = "open.order", "open.construction", "open.family"
RATING, NAME = "open.rating", "open.name"
FORM = (ENGINE, DAMPER, HOURS, DISTANCE, ORDER, CONSTRUCTION, FAMILY, RATING, NAME)


def leave(view: View) -> Choice:
    """The way out, on nearly every page."""
    return Choice("q", view.words.say("leave"), lambda _: Leave(), away=True)


def waiting(view: View, why: str) -> Page:
    """Nothing can be done until the bay says more."""
    return Page("waiting", view.words.say("bay {bay}", bay=view.bay), says=(why,), choices=(leave(view),))


def start(view: View, place: Place) -> Page:
    """No inspection is open: of what is the new one?"""
    latest, say = view.result, view.words.say
    says = [say("Which engine, and which damper is on it?")]
    if latest is not None:
        name, engine, state = latest.inspection, latest.engine.serial, say(latest.state)
        says.insert(
            0,
            say("The latest here: {name}, engine {engine}, {state}.", name=name, engine=engine, state=state),
        )
    return Page(
        "start",
        say("new inspection, bay {bay}", bay=view.bay),
        says=tuple(says),
        rows=tuple(method_words(view.method, None, view.words)),
        fields=(
            Field(ENGINE, say("engine"), say("its serial number")),
            Field(DAMPER, say("damper"), say("its serial number")),
            Field(HOURS, say("hours"), say("if known"), number=True),
            Field(DISTANCE, "km", say("if known"), number=True),
            Field(ORDER, say("work order"), say("if any")),
            Field(
                CONSTRUCTION, say("made how"), say("rolled or welded edge"), options=get_args(Construction)
            ),
            Field(FAMILY, say("kind"), say("viscous or rubber"), options=get_args(Family)),
            Field(RATING, say("engine's kW"), say("if known"), number=True),
            Field(NAME, say("its name"), say("if you want one")),
        ),
        choices=(
            Choice("enter", say("go on"), lambda values: _to_scope(view, values, place), main=True),
            leave(view),
        ),
    )


def _to_scope(view: View, values: Values, place: Place) -> Act:
    _header(view, values)
    return Turn(replace(place, stage="scope"))


def _header(view: View, values: Values) -> dict[str, Any]:
    meant = view.words.meant
    said = {
        "engine": text_of(values, ENGINE, Text("the engine's serial number")),
        "damper": text_of(values, DAMPER, Text("the damper's serial number")),
        "hours_h": number_of(values, HOURS, Text("hours")),
        "distance_km": number_of(values, DISTANCE, Text("km")),
        "work_order": values.get(ORDER) or None,
        "construction": meant(values.get(CONSTRUCTION, ""), get_args(Construction)) or None,
        "family": meant(values.get(FAMILY, ""), get_args(Family)) or None,
        "rating_kw": number_of(values, RATING, Text("kW")),
        "inspection": values.get(NAME) or None,
    }
    return {key: value for key, value in said.items() if value is not None}


def scope(view: View, place: Place, typed: Values) -> Page:
    """Where the damper is, which says what is inspected."""

    say = view.words.say

    def opened(key: str, scope: str, label: str) -> Choice:
        def act(values: Values) -> Act:
            said = {**_header(view, values), "scope": scope}
            return Send("open", said, then=_opened, forget=FORM, settles=True)

        return Choice(key, label, act)

    back = replace(place, stage="")
    return Page(
        "scope",
        say("new inspection, bay {bay}", bay=view.bay),
        says=(
            say(
                "Engine {engine}, damper {damper}.",
                engine=typed.get(ENGINE, ""),
                damper=typed.get(DAMPER, ""),
            ),
            say("What is inspected?"),
        ),
        choices=(
            opened("1", "on-engine", say("on the engine: eyes, rim, face")),
            opened("2", "bench", say("on the bench: eyes, thickness, cracks, leaks")),
            opened("3", "both", say("both, one after the other")),
            Choice("esc", say("back"), go(back)),
            leave(view),
        ),
    )


def _opened(_: Place, reply: Mapping[str, Any]) -> Place:
    return Place(inspection=str(reply["inspection"]))


def join(view: View, result: Result) -> Page:
    """One is open already: is it of the damper in front of the person?"""
    say, name, engine = view.words.say, result.inspection, result.engine.serial
    header = [
        say("engine {serial}", serial=engine),
        say("damper {serial}", serial=result.damper.serial),
        say("scope {scope}", scope=say(result.scope)),
    ]
    header += [say("work order {order}", order=result.work_order)] if result.work_order else []
    header += method_words(view.method, result, view.words)
    return Page(
        "join",
        say("an inspection is open"),
        says=(
            say(
                "Bay {bay} has one open: {name}, since {time}.",
                bay=view.bay,
                name=name,
                time=_time(result.opened),
            ),
            say("Is it yours?"),
        ),
        rows=tuple(header),
        choices=(
            Choice("j", say("yes: join it, go on where it is"), go(Place(inspection=name))),
            Choice(
                "x",
                say("no: give it up, to open another"),
                send("abandon", arguments={"inspection": name}, settles=True),
                confirm=say(
                    "Give {name} up? It is of engine {engine}. What it holds stays on record, and it cannot "
                    "be gone on with.",
                    name=name,
                    engine=engine,
                ),
            ),
            leave(view),
        ),
    )


def _time(rfc3339: str) -> str:
    return rfc3339[:16].replace("T", " ") + " UTC"
