"""Pages after an inspection was closed: signing it, and what then is to be done."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, get_args

from contract.result import Result, SurfaceCheck
from contract.terms import WORST_FIRST, Decision
from display.shown import due_in_words, outcome_words
from display.told import told
from display.walk.page import Act, Choice, Field, Page, Send, Values, go, text_of
from display.walk.pages.opening import leave
from display.walk.place import Place
from display.walk.view import View, checks_of
from display.walk.words import NAMES, VERDICTS
from display.words import Text

NAME, REMARK = "sign.name", "sign.remark"
SIGNER = Text("the name of who signs")


def sign(view: View, place: Place, result: Result, signer: str) -> Page:
    """A qualified person stands by it, or decides otherwise."""
    if place.inspection == result.inspection:  # what was begun of another is none of this one's
        if place.stage == "decide":
            return _decide(view, place, result)
        if place.stage == "remark":
            return _remark(view, place, result)
    say = view.words.say
    closed = say("Closed by {name}.", name=view.ended_by) if view.ended_by else say("Closed.")
    away = Place(passed=result.inspection)
    # A screen that slept may still show another inspection's: the name says which, so that no key of it
    # signs this one.
    return Page(
        f"sign {result.inspection} {result.revision} {result.verdict}",
        view.words.say("sign {name}", name=result.inspection),
        says=(
            say("VERDICT: {verdict}.", verdict=say(VERDICTS[result.verdict])),
            say(
                "Engine {engine}, damper {damper}.",
                engine=result.engine.serial,
                damper=result.damper.serial,
            ),
            f"{closed} {say('ringtrue advises; a qualified person decides and signs.')}",
            *(told(reason, view.words.language) for reason in result.reasons),
        ),
        rows=(*_lines(view, result), *_noted(view, result), *_excluded(view, result)),
        tells=result.verdict,
        fields=(Field(NAME, say("your name"), first=signer),),
        choices=(
            Choice(
                "enter",
                say("sign it: {verdict}", verdict=say(result.verdict)),
                _signed(result, say("Sign it as it stands?")),
                main=True,
            ),
            Choice("d", say("decide otherwise"), lambda values: _decided(values, place, result)),
            Choice("o", say("leave it unsigned, open another"), go(away)),
            leave(view),
        ),
    )


def _lines(view: View, result: Result) -> list[str]:
    unit, words = view.unit, view.words
    return [
        f"{words.say(NAMES[name])}: {outcome_words(check, unit, words)}"
        for name, check in checks_of(result).items()
    ]


def _noted(view: View, result: Result) -> list[str]:
    """What speaks against a check, for who signs."""
    say, language = view.words.say, view.words.language
    return [
        f"{say(NAMES[name])}: {say('Note: {warning}', warning=told(one, language))}"
        for name, check in checks_of(result).items()
        for one in check.warnings
    ]


def _excluded(view: View, result: Result) -> list[str]:
    """What the figures do not hold, for who signs."""
    say, language = view.words.say, view.words.language
    return [
        say(
            "{check}, not in the uncertainty: {what}",
            check=say(NAMES[name]),
            what="; ".join(told(what, language) for what in check.excluded),
        )
        for name, check in checks_of(result).items()
        if isinstance(check, SurfaceCheck) and check.excluded
    ]


def _signed(result: Result, question: str, decision: str = "") -> Any:
    def act(values: Values) -> Act:
        said: dict[str, Any] = {"inspection": result.inspection, "name": text_of(values, NAME, SIGNER)}
        if decision:
            said |= {"decision": decision, "remark": text_of(values, REMARK, Text("why, in a few words,"))}
        after = Place(inspection=result.inspection)
        done = Send("sign", said, then=lambda *_: after, forget=(REMARK,), settles=True)
        return replace(done, asks="ask-once", question=question)

    return act


def _decided(values: Values, place: Place, result: Result) -> Act:
    text_of(values, NAME, SIGNER)
    return go(replace(place, inspection=result.inspection, stage="decide"))(values)


def _decide(view: View, place: Place, result: Result) -> Page:
    """A decision of one's own: beside the verdict, which stays."""
    say = view.words.say
    others = [one for one in get_args(Decision) if one != result.verdict]
    return Page(
        f"decide {result.inspection} {result.revision} {result.verdict}",
        view.words.say("sign {name}", name=result.inspection),
        says=(
            say(
                "The verdict is {verdict}, and stays so in the record. Your own decision beside it:",
                verdict=say(result.verdict),
            ),
        ),
        choices=(
            *(
                Choice(str(n), say(one), go(replace(place, stage="remark", decision=one)))
                for n, one in enumerate(others, 1)
            ),
            Choice("esc", say("back"), go(replace(place, stage=""))),
        ),
    )


def _remark(view: View, place: Place, result: Result) -> Page:
    say = view.words.say
    verdict, decision = say(result.verdict), say(place.decision)
    question = say("Sign it, with your decision {decision} beside it?", decision=decision)
    return Page(
        f"remark {result.inspection} {result.revision} {place.decision}",
        view.words.say("sign {name}", name=result.inspection),
        says=(say("Verdict {verdict}, your decision {decision}: why?", verdict=verdict, decision=decision),),
        fields=(Field(REMARK, say("why")),),
        choices=(
            Choice(
                "enter",
                say("sign it: {verdict}", verdict=decision),
                _signed(result, question, place.decision),
                main=True,
            ),
            Choice("esc", say("back"), go(replace(place, stage="decide"))),
        ),
    )


def over(view: View, result: Result) -> Page:
    """Signed or abandoned: when again, and what is left to do."""
    say, name, state = view.words.say, result.inspection, view.words.say(result.state)
    is_signed = result.state == "signed"
    ended = (
        result.verdict
        if result.decision is None
        else min(result.verdict, result.decision, key=WORST_FIRST.index)
    )
    says = [say("VERDICT: {verdict}.", verdict=say(VERDICTS[result.verdict]))] if is_signed else []
    if result.signed_by:
        says.append(say("{name} is {state} by {signer}.", name=name, state=state, signer=result.signed_by))
    else:
        says.append(say("{name} is {state}.", name=name, state=state))
    if not is_signed and view.ended_by:
        says.append(say("Given up by {name}. What it holds stays on record.", name=view.ended_by))
    if result.decision is not None:
        decided = say("Decided otherwise: {decision}.", decision=say(VERDICTS[result.decision]))
        # The sheet's first line is read from afar, in the colour of what it is about.
        place = len(says) if ended == result.verdict else 0
        says.insert(place, f"{decided} {result.remark or ''}".strip())
    if is_signed and result.decision is None and result.verdict in ("incomplete", "measure-again"):
        says.append(say("Nothing is decided on this damper yet: open another inspection, and do what lacks."))
    if result.next_due is not None:
        says.append(say("Next due: {due}.", due=due_in_words(result.next_due, view.words)))
    return Page(
        f"over {result.state}",
        f"{name}: {state}",
        says=tuple(says),
        tells=ended if is_signed else "",
        choices=(Choice("o", say("open another inspection"), go(Place())), leave(view)),
    )
