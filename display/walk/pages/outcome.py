"""Pages after a check: what it came to, why, and what is next; and the list of all of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from contract.kinds import KINDS
from contract.result import Check, ObservedCheck, Result, StopPart, StopQuestionPart
from display.shown import method_words, outcome_words
from display.told import told
from display.walk.page import Act, Choice, Page, Send, Values, go
from display.walk.pages.looking import all_again
from display.walk.pages.opening import leave
from display.walk.place import Place
from display.walk.steps import next_step
from display.walk.view import DONE, GRADING_MAX_S, View, checks_of, next_check
from display.walk.words import NAMES, STOP, STOPS, UNSUITED, VERDICTS


def grading(view: View, place: Place, check: str) -> Page:
    """Between the end of a sweep and its result."""
    say = view.words.say
    name = say(NAMES.get(check, check))
    now = _working(view)
    return Page(
        f"grading {check}",
        name,
        says=(say("STOP: the {check} is taken.", check=name), now),
        choices=(_list(view, place), leave(view)),
        rings=f"stop {check}",
    )


def _working(view: View) -> str:
    """What is said in the place of what was found before."""
    say = view.words.say
    if view.ended_s <= GRADING_MAX_S:
        return say("The bay is working it out.")
    return say(
        "NOT WORKED OUT for {seconds} s: do not go by what was found before. Look into the daemon's log.",
        seconds=f"{view.ended_s:.0f}",
    )


def _so_far(view: View, result: Result) -> tuple[str, str]:
    """The verdict so far in words, and as itself; none while a sweep is worked out, which may be another."""
    if view.grading is not None:
        return _working(view), ""
    return view.words.say(VERDICTS[result.verdict]), result.verdict


def outcome(view: View, place: Place, result: Result, name: str, check: Check) -> Page:
    """What a check came to."""
    words, say = view.words, view.words.say
    says = [f"{say(NAMES[name])}: {say(check.outcome)}".upper()]
    rows = []
    if not isinstance(check, ObservedCheck) and check.attempts is not None:
        counted = sum(one.counted for one in check.attempts)
        attempts = words.count(len(check.attempts), "attempt")
        rows.append(say("{attempts}, {counted} counted", attempts=attempts, counted=counted))
    # What to do comes first: the reason may be long.
    says.append(say(next_step(check.outcome, check.reason) if name in KINDS else UNSUITED))
    says.append(told(check.reason, words.language))
    says += [say("Note: {warning}", warning=told(one, words.language)) for one in check.warnings]
    if isinstance(check, ObservedCheck):
        again = Choice("r", say("look again, all of it"), go(all_again(place, check)))
    else:
        again = Choice("r", say("measure again"), go(replace(place, check=name, stage="begin")))
    onward = _onward(view, place, result, name)
    pair = (onward, again) if check.outcome in DONE else (again, onward)
    first, *second = pair if name in KINDS else (onward,)
    # What Enter does differs from page to page; the other has a letter of its own.
    return Page(
        f"outcome {name} {check.outcome}",
        say(NAMES[name]),
        says=tuple(says),
        rows=tuple(rows),
        tells=check.outcome,
        choices=(replace(first, key="enter", main=True), *second, _list(view, place), leave(view)),
    )


def asked(view: View, place: Place, name: str, asks: StopQuestionPart) -> Page:
    """Which of the stops of a sweep by dwells was at a mark; each answer may bring the next question."""
    say = view.words.say
    deg = f"{asks.mark_deg:g}"

    def at(stop: StopPart) -> Callable[[Values], Act]:
        arguments = {"check": name, "angle_deg": asks.mark_deg, "at_s": stop.at_s}
        return lambda _: Send("mark", arguments, settles=True)

    choices = [
        Choice(
            str(n),
            say(STOP, at=_lasted(stop.at_s), lasted=_lasted(stop.lasted_s)),
            at(stop),
        )
        for n, stop in enumerate(asks.stops, 1)
    ]
    again = Choice("r", say("none of these: measure again"), go(replace(place, check=name, stage="begin")))
    return Page(
        f"asked {name} {deg} {asks.stops[0].at_s:g}",
        say(NAMES[name]),
        says=(say("Which stop was at the mark {deg}°?", deg=deg), say(STOPS)),
        choices=(*choices, again, _list(view, place), leave(view)),
    )


def _lasted(seconds: float) -> str:
    """Minutes and seconds."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def _onward(view: View, place: Place, result: Result, name: str) -> Choice:
    following, say = next_check(result, name), view.words.say
    if following is None:
        return Choice("o", say("go on: the list, to close"), go(replace(place, check=None, stage="list")))
    label = say("go on: {check}", check=say(NAMES[following]))
    return Choice("o", label, go(replace(place, check=following, stage="", later=(), again=())))


def _list(view: View, place: Place) -> Choice:
    return Choice("l", view.words.say("list of all checks"), go(replace(place, stage="list")), away=True)


def lifts_done(view: View, place: Place) -> Page:
    """What a repeatability test came to."""
    live, say = view.now, view.words.say
    says = [say("The repeatability test is over.")]
    if live.repeatability_mm is not None:
        deviation = view.unit.length(live.repeatability_mm, more=1)
        says.append(say("Standard deviation {deviation}.", deviation=deviation))
    return Page(
        "outcome lifts",
        say(NAMES["lifts"]),
        says=tuple(says),
        rows=tuple(f"! {told(warning, view.words.language)}" for warning in live.warnings),
        choices=(
            Choice("enter", say("go on"), go(replace(place, check=None, stage="list")), main=True),
            Choice("r", say("once more"), go(replace(place, stage="begin"))),
            leave(view),
        ),
    )


def overview(view: View, place: Place, result: Result) -> Page:
    """All checks, what they came to, and the way to each."""
    checks, say = checks_of(result), view.words.say
    choices = [
        Choice(str(n), _line(view, name, check), _look_at(place, name), tells=_told(view, name, check))
        for n, (name, check) in enumerate(checks.items(), 1)
    ]
    # A missing check is what is next; what is over or unclear may be left as it stands.
    missing = [name for name, check in checks.items() if name in KINDS and check.outcome == "missing"]
    closing = Choice("k", say("close: nothing more is measured"), go(replace(place, stage="close")))
    if missing:
        onward = _look_at(place, missing[0])
        choices.insert(
            0, Choice("enter", say("go on: {check}", check=say(NAMES[missing[0]])), onward, main=True)
        )
        choices.append(closing)
    else:
        choices.insert(0, replace(closing, key="enter", main=True))
    name = result.inspection
    so_far, tells = _so_far(view, result)
    return Page(
        "list",
        say("{name}: all checks", name=name),
        says=(say("So far: {verdict}.", verdict=so_far) if tells else so_far,),
        rows=tuple(method_words(view.method, result, view.words)),
        tells=tells,
        choices=(
            *choices,
            Choice("h", say("how well the gauge repeats"), go(replace(place, check="lifts", stage="begin"))),
            Choice(
                "x",
                say("give this inspection up"),
                _abandon(name),
                confirm=say(
                    "Give {name} up? What it holds stays on record, and it cannot be gone on with.", name=name
                ),
            ),
            leave(view),
        ),
    )


def _abandon(name: str) -> Callable[[Values], Act]:
    return lambda _: Send("abandon", {"inspection": name}, settles=True)


def _look_at(place: Place, name: str) -> Callable[[Values], Act]:
    return go(replace(place, check=name, stage="", again=(), later=()))


def _told(view: View, name: str, check: Check) -> str:
    """Its outcome; of one that is worked out anew, none yet."""
    return "missing" if name == view.grading else check.outcome


def _line(view: View, name: str, check: Check) -> str:
    words = view.words
    if name == view.grading:
        return f"{words.say(NAMES[name])}: {words.say('being worked out')}"
    is_bare = isinstance(check, ObservedCheck) or check.outcome == "missing"
    outcome = words.say(check.outcome) if is_bare else outcome_words(check, view.unit, words)
    return f"{words.say(NAMES[name])}: {outcome}"


def close(view: View, place: Place, result: Result) -> Page:
    """Asked once more, as nothing is measured after it."""
    say = view.words.say
    short = [
        _line(view, name, check) if name == view.grading else f"{say(NAMES[name])}: {say(check.outcome)}"
        for name, check in checks_of(result).items()
        if _told(view, name, check) not in DONE
    ]
    so_far, tells = _so_far(view, result)
    return Page(
        "close",
        say("close {name}", name=result.inspection),
        says=(f"{so_far}." if tells else so_far, say("Closed, nothing more can be measured in it.")),
        rows=tuple(short),
        tells=tells,
        choices=(
            Choice(
                "k",
                say("close it"),
                lambda _: Send(
                    "close",
                    {"inspection": result.inspection},
                    then=lambda now, _: replace(now, stage=""),
                    settles=True,
                ),
            ),
            Choice("esc", say("back"), go(replace(place, stage="list"))),
            leave(view),
        ),
    )
