"""Pages before a measurement: how it is set up, and with which gauge."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

from contract.kinds import takes
from contract.states import GaugeStateMessage
from contract.terms import TYPED
from display.walk.page import Act, Choice, Field, Page, Send, Turn, Values, go, number_of
from display.walk.pages.opening import LEAVE
from display.walk.place import Place
from display.walk.view import View
from display.walk.words import NAMES, SET_UP

RADIUS, STEP, ERROR = "begin.radius", "begin.step", "begin.error"


def begin(view: View, place: Place, check: str) -> Page:
    """Set up, then choose a gauge."""
    if place.stage == "dial":
        return _facts(view, place, check)
    away: list[str] = []
    choices: list[Choice] = []
    for gauge, state in sorted(view.gauges.items()):
        if not _fits(state, check):
            continue
        if state.state != "connected":
            away.append(f"{gauge}: {state.state} ({state.reason})")
        elif len(choices) < 9:
            key = str(len(choices) + 1)
            choices.append(Choice(key, f"begin, with {gauge}", _chosen(place, check, gauge)))
    if not choices:
        away.append("No gauge that fits is connected: switch one on, or use a plain one.")
    plain = "a plain micrometer" if check == "thickness" else "a plain dial"
    ended = view.ended
    told: tuple[str, ...] = ()
    if ended is not None and ended.check == check and ended.reason == "cancelled":
        by = f" by {ended.operator}" if ended.operator else ""
        told = (f"The last one was cancelled{by}; it does not count.",)
    return Page(
        f"begin {check}",
        NAMES[check],
        says=(*told, *(f"{n}. {said}" for n, said in enumerate(SET_UP[check], 1))),
        rows=tuple(away),
        choices=(
            *choices,
            Choice("p", f"{plain}, read and typed", _chosen(place, check, TYPED)),
            Choice("l", "list of all checks", go(replace(place, stage="list")), away=True),
            LEAVE,
        ),
    )


def _fits(state: GaugeStateMessage, check: str) -> bool:
    """Whether it gives what is taken: a turn is read all the way round, a place at the press of a key. What
    a daemon does not say may fit; it refuses what does not."""
    if state.measures == "angle" or (state.last is not None and state.last.value_mm is None):
        return False
    ways = {"turn": ("free-running", "requested"), "places": ("key-press",)}.get(takes(check))
    return ways is None or state.sends is None or state.sends in ways


def _chosen(place: Place, check: str, gauge: str) -> Any:
    """Begin, or ask first what the bay cannot know."""
    if check == "face" or gauge == TYPED:
        return go(replace(place, check=check, stage="dial", gauge=gauge))
    return _begun(place, check, gauge, Decimal(1))


def _begun(place: Place, check: str, gauge: str, per_unit: Decimal) -> Any:
    def act(values: Values) -> Act:
        said = {
            "check": check,
            "gauge": gauge,
            "radius_mm": number_of(values, RADIUS, "radius", per_unit) if check == "face" else None,
            "resolution_mm": number_of(values, STEP, "one step", per_unit) if gauge == TYPED else None,
            "mpe_mm": number_of(values, ERROR, "its error", per_unit) if gauge == TYPED else None,
        }
        arguments = {key: value for key, value in said.items() if value is not None}
        after = replace(place, check=check, stage="", gauge="")
        return Send("begin", arguments, then=lambda *_: after)

    return act


def _facts(view: View, place: Place, check: str) -> Page:
    """What the bay cannot know of this sweep; left empty, the method's figures hold."""
    unit, gauge = view.unit, place.gauge
    fields = []
    says = ["What is left empty is as the method has it."]
    if check == "face":
        says.append("Radius: how far from the axis the plunger stands.")
        fields.append(Field(RADIUS, f"radius, {unit.name}", "as in the method", number=True))
    if gauge == TYPED:
        says.append("One step: the least that you can tell apart. Error: the most between two readings.")
        fields += [
            Field(STEP, f"one step, {unit.name}", "as in the method", number=True),
            Field(ERROR, f"error, {unit.name}", "as in the method", number=True),
        ]
    back = replace(place, stage="begin", gauge="")
    return Page(
        f"facts {check} {gauge}",
        NAMES[check],
        says=tuple(says),
        fields=tuple(fields),
        choices=(
            Choice("enter", f"begin, {gauge}", _begun(place, check, gauge, unit.mm_per), main=True),
            Choice("esc", "back", lambda _: Turn(back)),
            LEAVE,
        ),
    )
