"""Pages before an inspection is this screen's: waiting, opening one, joining one that is open."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from contract.result import Result
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

ENGINE, DAMPER, HOURS, DISTANCE = "open.engine", "open.damper", "open.hours", "open.distance"
ORDER, CONSTRUCTION, FAMILY = "open.order", "open.construction", "open.family"
RATING, NAME = "open.rating", "open.name"
FORM = (ENGINE, DAMPER, HOURS, DISTANCE, ORDER, CONSTRUCTION, FAMILY, RATING, NAME)

LEAVE = Choice("q", "leave", lambda _: Leave(), away=True)


def waiting(view: View, why: str) -> Page:
    """Nothing can be done until the bay says more."""
    return Page("waiting", f"bay {view.bay}", says=(why,), choices=(LEAVE,))


def start(view: View, place: Place) -> Page:
    """No inspection is open: of what is the new one?"""
    latest = view.result
    says = () if latest is None else (f"The latest here: {_of(latest)}, {latest.state}.",)
    return Page(
        "start",
        f"new inspection, bay {view.bay}",
        says=(*says, "Which engine, and which damper is on it?"),
        fields=(
            Field(ENGINE, "engine", "its serial number"),
            Field(DAMPER, "damper", "its serial number"),
            Field(HOURS, "hours", "if known", number=True),
            Field(DISTANCE, "km", "if known", number=True),
            Field(ORDER, "work order", "if any"),
            Field(CONSTRUCTION, "made how", "rolled or welded edge"),
            Field(FAMILY, "kind", "viscous or rubber"),
            Field(RATING, "engine's kW", "if known", number=True),
            Field(NAME, "its name", "if you want one"),
        ),
        choices=(Choice("enter", "go on", lambda values: _to_scope(values, place), main=True), LEAVE),
    )


def _to_scope(values: Values, place: Place) -> Act:
    _header(values)
    return Turn(replace(place, stage="scope"))


def _header(values: Values) -> dict[str, Any]:
    said = {
        "engine": text_of(values, ENGINE, "the engine's serial number"),
        "damper": text_of(values, DAMPER, "the damper's serial number"),
        "hours_h": number_of(values, HOURS, "hours"),
        "distance_km": number_of(values, DISTANCE, "km"),
        "work_order": values.get(ORDER) or None,
        "construction": values.get(CONSTRUCTION) or None,
        "family": values.get(FAMILY) or None,
        "rating_kw": number_of(values, RATING, "kW"),
        "inspection": values.get(NAME) or None,
    }
    return {key: value for key, value in said.items() if value is not None}


def scope(view: View, place: Place, typed: Values) -> Page:
    """Where the damper is, which says what is inspected."""

    def opened(scope: str) -> Choice:
        key, label = {
            "on-engine": ("1", "on the engine: eyes, rim, face"),
            "bench": ("2", "on the bench: eyes, thickness, cracks, leaks"),
            "both": ("3", "both, one after the other"),
        }[scope]

        def act(values: Values) -> Act:
            return Send("open", {**_header(values), "scope": scope}, then=_opened, forget=FORM, settles=True)

        return Choice(key, label, act)

    back = replace(place, stage="")
    return Page(
        "scope",
        f"new inspection, bay {view.bay}",
        says=(f"Engine {typed.get(ENGINE, '')}, damper {typed.get(DAMPER, '')}.", "What is inspected?"),
        choices=(
            *(opened(name) for name in ("on-engine", "bench", "both")),
            Choice("esc", "back", go(back)),
            LEAVE,
        ),
    )


def _opened(_: Place, reply: Mapping[str, Any]) -> Place:
    return Place(inspection=str(reply["inspection"]))


def join(view: View, result: Result) -> Page:
    """One is open already: is it of the damper in front of the person?"""
    header = [f"engine {result.engine.serial}", f"damper {result.damper.serial}", f"scope {result.scope}"]
    header += [f"work order {result.work_order}"] if result.work_order else []
    name = result.inspection
    return Page(
        "join",
        "an inspection is open",
        says=(f"Bay {view.bay} has one open: {name}, since {_time(result.opened)}.", "Is it yours?"),
        rows=tuple(header),
        choices=(
            Choice("j", "yes: join it, go on where it is", go(Place(inspection=name))),
            Choice(
                "x",
                "no: give it up, to open another",
                send("abandon", arguments={"inspection": name}, settles=True),
                confirm=f"Give {name} up? It is of engine {result.engine.serial}. What it holds stays on "
                "record, and it cannot be gone on with.",
            ),
            LEAVE,
        ),
    )


def _of(result: Result) -> str:
    return f"{result.inspection}, engine {result.engine.serial}"


def _time(rfc3339: str) -> str:
    return rfc3339[:16].replace("T", " ") + " UTC"
