"""Pages after an inspection was closed: signing it, and what then is to be done."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, get_args

from contract.result import Result
from contract.terms import Decision
from contract.words import due_words
from display.shown import outcome_words
from display.walk.page import Act, Choice, Field, Page, Send, Values, go, text_of
from display.walk.pages.opening import LEAVE
from display.walk.place import Place
from display.walk.view import View, checks_of
from display.walk.words import NAMES, VERDICTS

NAME, REMARK = "sign.name", "sign.remark"


def sign(view: View, place: Place, result: Result, signer: str) -> Page:
    """A qualified person stands by it, or decides otherwise."""
    if place.stage == "decide":
        return _decide(place, result)
    if place.stage == "remark":
        return _remark(place, result)
    by = f" by {view.ended_by}" if view.ended_by else ""
    away = Place(passed=result.inspection)
    return Page(
        "sign",
        f"sign {result.inspection}",
        says=(
            f"VERDICT: {VERDICTS[result.verdict]}.",
            f"Closed{by}. ringtrue advises; a qualified person decides and signs.",
            *result.reasons,
        ),
        rows=tuple(_lines(view, result)),
        fields=(Field(NAME, "your name", first=signer),),
        choices=(
            Choice("enter", f"sign it: {result.verdict}", _signed(result), main=True),
            Choice("d", "decide otherwise", lambda values: _decided(values, place)),
            Choice("o", "leave it unsigned, open another", go(away)),
            LEAVE,
        ),
    )


def _lines(view: View, result: Result) -> list[str]:
    return [f"{NAMES[name]}: {outcome_words(check, view.unit)}" for name, check in checks_of(result).items()]


def _signed(result: Result, decision: str = "") -> Any:
    def act(values: Values) -> Act:
        said: dict[str, Any] = {
            "inspection": result.inspection, "name": text_of(values, NAME, "the name of who signs"),
        }  # fmt: skip
        if decision:
            said |= {"decision": decision, "remark": text_of(values, REMARK, "why, in a few words,")}
        after = Place(inspection=result.inspection)
        return Send("sign", said, then=lambda *_: after, forget=(REMARK,), settles=True, asks="ask-once")

    return act


def _decided(values: Values, place: Place) -> Act:
    text_of(values, NAME, "the name of who signs")
    return go(replace(place, stage="decide"))(values)


def _decide(place: Place, result: Result) -> Page:
    """A decision of one's own: beside the verdict, which stays."""
    others = [one for one in get_args(Decision) if one != result.verdict]
    return Page(
        "decide",
        f"sign {result.inspection}",
        says=(f"The verdict is {result.verdict}, and stays so in the record. Your own decision beside it:",),
        choices=(
            *(
                Choice(str(n), one, go(replace(place, stage="remark", decision=one)))
                for n, one in enumerate(others, 1)
            ),
            Choice("esc", "back", go(replace(place, stage=""))),
        ),
    )


def _remark(place: Place, result: Result) -> Page:
    return Page(
        "remark",
        f"sign {result.inspection}",
        says=(f"Verdict {result.verdict}, your decision {place.decision}: why?",),
        fields=(Field(REMARK, "why"),),
        choices=(
            Choice("enter", f"sign it: {place.decision}", _signed(result, place.decision), main=True),
            Choice("esc", "back", go(replace(place, stage="decide"))),
        ),
    )


def over(view: View, result: Result) -> Page:
    """Signed or abandoned: when again, and what is left to do."""
    by = f" by {result.signed_by}" if result.signed_by else ""
    says = [f"{result.inspection} is {result.state}{by}."]
    if result.state == "signed":
        says.append(f"VERDICT: {VERDICTS[result.verdict]}.")
    elif view.ended_by:
        says.append(f"Given up by {view.ended_by}. What it holds stays on record.")
    if result.decision is not None:
        says.append(f"Decided otherwise: {result.decision}. {result.remark or ''}".strip())
    if result.next_due is not None:
        says.append(f"Next due: {due_words(result.next_due)}.")
    return Page(
        f"over {result.state}",
        f"{result.inspection}: {result.state}",
        says=tuple(says),
        choices=(Choice("o", "open another inspection", go(Place())), LEAVE),
    )
