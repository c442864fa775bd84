"""The head of a report: verdict and state in large words, and what was inspected."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal

from contract.result import Result
from contract.words import due_words
from grading.programme.past import is_found
from records.pictures.turn import EXAMPLE
from records.report.page import Facts

ADVISES = "ringtrue advises; a qualified person decides and signs."

HEADLINES = {
    "keep": "KEEP",
    "replace": "REPLACE",
    "measure-again": "MEASURE AGAIN",
    "incomplete": "INCOMPLETE",
}
ELSEWHERE = (
    "Look there which is right, and inspect again under another name: nothing keeps the damper on till then."
)
UNCOUNTED = "DOES NOT COUNT"
MEANING = {
    "keep": "Every required check is within its limit or good: the damper may stay on.",
    "replace": "A check is over its limit or bad: the damper must not stay on as it is.",
    "measure-again": "No decision yet: a check is unclear or invalid, and is to be done again.",
    "incomplete": "No decision yet: a required check is missing.",
}
SCOPES = {"on-engine": "on the engine", "bench": "on the bench", "both": "on the engine and on the bench"}


def tone(
    result: Result, latest: int, bays: str | None = None, later: Result | None = None, why: str | None = None
) -> Literal["plain", "grey", "dark"]:
    """Of the ground on which the large words stand. latest: the highest revision known; bays, later, why: as
    in `headline`."""
    if bays is not None or result.state in ("open", "abandoned") or result.revision < latest:
        return "grey"
    said = {result.verdict, result.decision or result.verdict}
    said |= {later.decision or later.verdict} if later is not None else set()
    if "replace" in said:
        return "dark"
    return "plain" if said == {"keep"} and why is None else "grey"


def headline(
    result: Result, latest: int, bays: str | None = None, later: Result | None = None, why: str | None = None
) -> tuple[str, str | None, tuple[str, ...]]:
    """The large words, what stands as large beside them, and what both mean. bays: that issued results of
    this inspection that contradict each other. later: what its damper came to last since, where that is not
    keep. why: its keep does not stand.

    An inspection that is not finished, or was given up, and a revision that another has replaced have no
    verdict to be read at arm's length. Where who signed decided otherwise, neither is told without the other.
    """
    verdict = HEADLINES[result.verdict]
    if bays is not None:
        issued = f"{bays} issued results of this inspection that contradict each other."
        alone = f"This one, which alone is on record, says: {verdict.lower()}."
        return "CONTRADICTED", "NO VERDICT", (issued, alone, ELSEWHERE)
    if result.revision < latest:
        was = f"Revision {latest} of this inspection replaces this one, which was {result.state}"
        return "SUPERSEDED", f"BY REVISION {latest}", (f"{was} and said: {verdict.lower()}.",)
    if result.state == "abandoned":
        gave = f"This inspection was given up and decides nothing. What it had come to: {verdict.lower()}."
        if is_found(result):
            found = "What it found stands until the damper is inspected again"
            gave = f"This inspection was closed, and given up then. {found}: {verdict.lower()}."
        return "ABANDONED", "NO VERDICT", (gave,)
    if result.state == "open":
        so_far = f"The inspection is still open and decides nothing yet. So far: {verdict.lower()}."
        return "NOT FINISHED", "NOT SIGNED", (so_far,)
    if why is not None:
        large, notice, meant = headline(result, latest, later=later)
        beside = UNCOUNTED if later is None else notice
        return large, beside, (f"{why[0].upper()}{why[1:]}.", *_left(meant))
    if later is not None and (result.decision or result.verdict) == "keep":
        return _outlived(result, latest, later)
    if result.decision is not None and result.decision != result.verdict:
        return _against(result, verdict, HEADLINES[result.decision])
    says = _meaning(result)
    if result.next_due is not None:
        says.append(f"Next inspection: {due_words(result.next_due)}.")
    if result.state == "signed":
        return verdict, None, tuple(says)
    says.insert(0, "Closed and not signed: it counts once a qualified person has signed it.")
    return verdict, "NOT SIGNED", tuple(says)


def _outlived(result: Result, latest: int, later: Result) -> tuple[str, str | None, tuple[str, ...]]:
    """What was kept, and is to go or to be measured again since."""
    large, _, says = headline(result, latest)
    ended = later.decision or later.verdict
    since = f"Inspection {later.inspection} of this damper, opened later ({moment(later.opened)}), ended in"
    was = f"{since} {ended.replace('-', ' ')}: that counts, and this no more."
    return large, f"LATER: {HEADLINES[ended]}", (was, *_left(says))


def _left(says: Iterable[str]) -> Iterator[str]:
    """What holds of a keep that counts no more."""
    return (one for one in says if one != MEANING["keep"] and not one.startswith("Next inspection:"))


def _against(result: Result, verdict: str, decision: str) -> tuple[str, str | None, tuple[str, ...]]:
    says = [f"{result.signed_by or 'The signer'} decided {decision.lower()}, against the verdict."]
    if result.remark:
        says.append(f"Remark: {result.remark}")
    says.append("What the verdict says: " + " ".join(_meaning(result)))
    return f"VERDICT: {verdict}", f"SIGNED AS: {decision}", tuple(says)


def _meaning(result: Result) -> list[str]:
    says = [MEANING[result.verdict]]
    if result.method.id == EXAMPLE:
        says.append("Judged by example limits: the engine maker's manual rules.")
    return says


def identity(result: Result) -> Facts:
    """Engine, damper, place and time; what was not given is said to be so."""
    return Facts(tuple(_identity(result)))


def _identity(result: Result) -> Iterator[tuple[str, str]]:
    engine, damper = result.engine, result.damper
    yield "Damper", damper.serial
    yield "Engine", engine.serial
    yield "Construction", damper.construction or "not stated"
    yield "Engine hours", "not stated" if engine.hours_h is None else f"{grouped(engine.hours_h)} h"
    yield "Inspected", SCOPES[result.scope]
    yield "Distance", "not stated" if engine.distance_km is None else f"{grouped(engine.distance_km)} km"
    yield "Site, bay", f"{result.site}, {result.bay}"
    yield "Work order", result.work_order or "not stated"
    yield "Opened", moment(result.opened)
    yield "Closed", "not closed" if result.closed is None else moment(result.closed)


def grouped(number: float) -> str:
    """A counter as a person reads it: `11 870`, `184 200.5`."""
    return f"{number:,.1f}".replace(",", " ").removesuffix(".0")


def moment(rfc3339: str) -> str:
    """`2026-11-26 04:58 UTC`."""
    return f"{rfc3339[:10]} {rfc3339[11:16]} UTC"
