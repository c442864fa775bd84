"""Pages after a check: what it came to, why, and what is next; and the list of all of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from contract.kinds import KINDS
from contract.result import Check, ObservedCheck, Result
from contract.words import count_of
from display.shown import outcome_words
from display.walk.page import Act, Choice, Page, Send, Values, go
from display.walk.pages.looking import all_again
from display.walk.pages.opening import LEAVE
from display.walk.place import Place
from display.walk.view import DONE, View, checks_of, next_check
from display.walk.words import NAMES, NEXT, UNSUITED, VERDICTS


def grading(place: Place, check: str) -> Page:
    """Between the end of a sweep and its result."""
    return Page(
        f"grading {check}",
        NAMES.get(check, check),
        says=(f"STOP: the {NAMES.get(check, check)} is taken.", "The bay is working it out."),
        choices=(_list(place), LEAVE),
        rings=f"stop {check}",
    )


def outcome(view: View, place: Place, result: Result, name: str, check: Check) -> Page:
    """What a check came to."""
    says = [f"{NAMES[name].upper()}: {check.outcome.upper()}"]
    rows = []
    if not isinstance(check, ObservedCheck):
        if view.unit.name != "mm":  # sentences of the bay are in mm
            says.append(outcome_words(check, view.unit))
        if check.attempts is not None:
            counted = sum(one.counted for one in check.attempts)
            rows.append(f"{count_of(len(check.attempts), 'attempt')}, {counted} counted")
    says += [check.reason, *(f"Note: {warning}" for warning in check.warnings)]
    says.append(NEXT[check.outcome] if name in KINDS else UNSUITED)
    if isinstance(check, ObservedCheck):
        again = Choice("r", "look again, all of it", go(all_again(place, check)))
    else:
        again = Choice("r", "measure again", go(replace(place, check=name, stage="begin")))
    onward = _onward(place, result, name)
    pair = (onward, again) if check.outcome in DONE else (again, onward)
    first, *second = pair if name in KINDS else (onward,)
    # What Enter does differs from page to page; the other has a letter of its own.
    return Page(
        f"outcome {name} {check.outcome}",
        NAMES[name],
        says=tuple(says),
        rows=tuple(rows),
        choices=(replace(first, key="enter", main=True), *second, _list(place), LEAVE),
    )


def _onward(place: Place, result: Result, name: str) -> Choice:
    following = next_check(result, name)
    if following is None:
        return Choice("o", "go on: the list, to close", go(replace(place, check=None, stage="list")))
    label = f"go on: {NAMES[following]}"
    return Choice("o", label, go(replace(place, check=following, stage="", later=(), again=())))


def _list(place: Place) -> Choice:
    return Choice("l", "list of all checks", go(replace(place, stage="list")), away=True)


def lifts_done(view: View, place: Place) -> Page:
    """What a repeatability test came to."""
    live = view.now
    says = ["The repeatability test is over."]
    if live.repeatability_mm is not None:
        says.append(f"Standard deviation {view.unit.length(live.repeatability_mm, more=1)}.")
    return Page(
        "outcome lifts",
        NAMES["lifts"],
        says=tuple(says),
        rows=tuple(f"! {warning}" for warning in live.warnings),
        choices=(
            Choice("enter", "go on", go(replace(place, check=None, stage="list")), main=True),
            Choice("r", "once more", go(replace(place, stage="begin"))),
            LEAVE,
        ),
    )


def overview(view: View, place: Place, result: Result) -> Page:
    """All checks, what they came to, and the way to each."""
    checks = checks_of(result)
    choices = [
        Choice(str(n), _line(view, name, check), _look_at(place, name))
        for n, (name, check) in enumerate(checks.items(), 1)
    ]
    # A missing check is what is next; what is over or unclear may be left as it stands.
    missing = [name for name, check in checks.items() if name in KINDS and check.outcome == "missing"]
    closing = Choice("k", "close: nothing more is measured", go(replace(place, stage="close")))
    if missing:
        onward = _look_at(place, missing[0])
        choices.insert(0, Choice("enter", f"go on: {NAMES[missing[0]]}", onward, main=True))
        choices.append(closing)
    else:
        choices.insert(0, replace(closing, key="enter", main=True))
    name = result.inspection
    return Page(
        "list",
        f"{name}: all checks",
        says=(f"So far: {VERDICTS[result.verdict]}.",),
        choices=(
            *choices,
            Choice("h", "how well the gauge repeats", go(replace(place, check="lifts", stage="begin"))),
            Choice(
                "x",
                "give this inspection up",
                _abandon(name),
                confirm=f"Give {name} up? What it holds stays on record, and it cannot be gone on with.",
            ),
            LEAVE,
        ),
    )


def _abandon(name: str) -> Callable[[Values], Act]:
    return lambda _: Send("abandon", {"inspection": name}, settles=True)


def _look_at(place: Place, name: str) -> Callable[[Values], Act]:
    return go(replace(place, check=name, stage="", again=(), later=()))


def _line(view: View, name: str, check: Check) -> str:
    if isinstance(check, ObservedCheck) or check.outcome == "missing":
        return f"{NAMES[name]}: {check.outcome}"
    return f"{NAMES[name]}: {outcome_words(check, view.unit)}"


def close(place: Place, result: Result) -> Page:
    """Asked once more, as nothing is measured after it."""
    short = [
        f"{NAMES[name]}: {check.outcome}"
        for name, check in checks_of(result).items()
        if check.outcome not in DONE
    ]
    return Page(
        "close",
        f"close {result.inspection}",
        says=(f"{VERDICTS[result.verdict]}.", "Closed, nothing more can be measured in it."),
        rows=tuple(short),
        choices=(
            Choice(
                "k",
                "close it",
                lambda _: Send(
                    "close",
                    {"inspection": result.inspection},
                    then=lambda now, _: replace(now, stage=""),
                    settles=True,
                ),
            ),
            Choice("esc", "back", go(replace(place, stage="list"))),
            LEAVE,
        ),
    )
