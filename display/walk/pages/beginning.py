"""Pages before a measurement: how it is set up, and with which gauge."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

from contract.kinds import takes
from contract.states import GaugeStateMessage
from contract.terms import TYPED
from display.told import told
from display.walk.page import Act, Choice, Field, Page, Send, Turn, Values, go, number_of, send
from display.walk.pages.opening import leave
from display.walk.place import Place
from display.walk.view import View
from display.walk.words import AT_ZERO, NAMES, NOT_ZEROED, OPPOSITE, SET_UP, TWO_TURNS
from display.words import Text

RADIUS, STEP, ERROR = "begin.radius", "begin.step", "begin.error"


def begin(view: View, place: Place, check: str) -> Page:
    """Set up, then choose a gauge."""
    if place.stage == "dial":
        return _facts(view, place, check)
    say = view.words.say
    fit = {gauge: state for gauge, state in sorted(view.gauges.items()) if _fits(state, check)}
    away = [
        f"{gauge}: {say(state.state)} ({told(state.reason, view.words.language)})"
        for gauge, state in fit.items()
        if state.state != "connected"
    ]
    connected = connected_for(view, check)
    choices = [
        Choice(str(n), say("begin, with {gauge}", gauge=gauge), _chosen(place, check, gauge))
        for n, gauge in enumerate(connected[:9], 1)
    ]
    choices += _of_two(view, place, check, connected)
    if not connected:
        away.append(say("No gauge that fits is connected: switch one on, or use a plain one."))
    is_micrometer = check == "thickness"
    plain = (
        say("a plain micrometer, read and typed") if is_micrometer else say("a plain dial, read and typed")
    )
    ended = view.ended
    before: tuple[str, ...] = ()
    if ended is not None and ended.check == check and ended.reason == "cancelled":
        before = (say("The last one was cancelled; it does not count."),)
        if ended.operator:
            before = (say("The last one was cancelled by {name}; it does not count.", name=ended.operator),)
    angle_zero = view.live.angle_zero if view.live is not None and takes(check) == "turn" else None
    if angle_zero is not None:
        choices.append(Choice("z", say(AT_ZERO), send("zero")))
    if angle_zero == "encoder":
        away.append(say(NOT_ZEROED))
    return Page(
        f"begin {check}" + (f" {place.turns}" if place.turns > 1 else ""),
        say(NAMES[check]),
        says=(*before, *(f"{n}. {say(step)}" for n, step in enumerate(_steps(place, check), 1))),
        rows=tuple(away),
        choices=(
            *choices,
            Choice("p", plain, _chosen(place, check, TYPED)),
            Choice("l", say("list of all checks"), go(replace(place, stage="list")), away=True),
            leave(view),
        ),
    )


def _steps(place: Place, check: str) -> tuple[Text, ...]:
    """What to do, with as many turns as are asked for."""
    steps = SET_UP[check]
    return (*steps[:-1], TWO_TURNS) if place.turns > 1 else steps


def _of_two(view: View, place: Place, check: str, connected: list[str]) -> list[Choice]:
    """A second gauge half a turn away on the face, and two turns in place of one."""
    if takes(check) != "turn":
        return []
    say, found = view.words.say, []
    if check == "face" and len(connected) > 1:
        one, other = connected[:2]
        both = say("begin, with {gauge}, and {other} opposite", gauge=one, other=other)
        chosen = replace(place, check=check, stage="dial", gauge=one, opposite=other)
        found.append(Choice("o", both, go(chosen)))
    turns = say("one turn only") if place.turns > 1 else say("two turns instead of one")
    again = replace(place, check=check, stage="begin", turns=1 if place.turns > 1 else 2)
    return [*found, Choice("t", turns, go(again))]


def connected_for(view: View, check: str) -> list[str]:
    """The gauges that are connected and may give what is taken, in order."""
    return [
        gauge
        for gauge, state in sorted(view.gauges.items())
        if _fits(state, check) and state.state == "connected"
    ]


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
        return go(replace(place, check=check, stage="dial", gauge=gauge, opposite=""))
    return _begun(place, check, gauge, Decimal(1))


def _begun(place: Place, check: str, gauge: str, per_unit: Decimal) -> Any:
    def act(values: Values) -> Act:
        said = {
            "check": check,
            "gauge": gauge,
            "opposite": place.opposite or None,
            "turns": place.turns if place.turns > 1 and gauge != TYPED else None,
            "radius_mm": number_of(values, RADIUS, Text("radius"), per_unit) if check == "face" else None,
            "resolution_mm": number_of(values, STEP, Text("one step"), per_unit) if gauge == TYPED else None,
            "mpe_mm": number_of(values, ERROR, Text("its error"), per_unit) if gauge == TYPED else None,
        }
        arguments = {key: value for key, value in said.items() if value is not None}
        after = replace(place, check=check, stage="", gauge="", opposite="", turns=1)
        return Send("begin", arguments, then=lambda *_: after)

    return act


def _facts(view: View, place: Place, check: str) -> Page:
    """What the bay cannot know of this sweep; left empty, the method's figures hold."""
    unit, gauge, say = view.unit.name, place.gauge, view.words.say
    fields = []
    says = [say("What is left empty is as the method has it.")]
    as_is = say("as in the method")
    if check == "face":
        says.append(say("Radius: how far from the axis the plunger stands."))
        fields.append(Field(RADIUS, say("radius, {unit}", unit=unit), as_is, number=True))
    if gauge == TYPED:
        says.append(say("One step: the least that you can tell apart. Error: the most between two readings."))
        fields += [
            Field(STEP, say("one step, {unit}", unit=unit), as_is, number=True),
            Field(ERROR, say("error, {unit}", unit=unit), as_is, number=True),
        ]
    if place.opposite:
        says.append(say(OPPOSITE, other=place.opposite))
    back = replace(place, stage="begin", gauge="", opposite="")
    begins = say("begin, {gauge}", gauge=say(gauge) if gauge == TYPED else gauge)
    return Page(
        f"facts {check} {gauge} {place.opposite}".rstrip(),
        say(NAMES[check]),
        says=tuple(says),
        fields=tuple(fields),
        choices=(
            Choice("enter", begins, _begun(place, check, gauge, view.unit.mm_per), main=True),
            Choice("esc", say("back"), lambda _: Turn(back)),
            leave(view),
        ),
    )
