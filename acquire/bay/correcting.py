"""A signed inspection put right: what was written down wrong, never what was measured."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from typing import Any

from acquire.bay.asked import Answer
from acquire.bay.inspection import InspectionState, lapses
from acquire.bay.known import Known, looser_said, misspelt_said, unknown_said
from acquire.errors import CommandRefusedError
from acquire.journal.events import Corrected
from config.method import Method
from contract import commands
from contract.corrections import changes_between
from contract.header import DamperPart, EnginePart, Header
from contract.terms import Verdict
from contract.wire import rfc3339

MOST = 10
"""Corrections of one inspection: its document stays bounded, and more is no slip of the pencil."""


Verdicts = Callable[[Header], tuple[Verdict, Verdict]]


def correct(
    command: commands.Correct,
    common: dict[str, Any],
    found: InspectionState,
    now: datetime,
    known: Known,
    verdicts: Verdicts,
    *,
    software: str,
) -> Answer:
    """The event, which raises the revision. common: what it shares with all. known: the register.
    verdicts: what the inspection came to, and comes to with another header; asked only where they may differ:
    by the header, or as another software opened it, whose rules may have been others.
    """
    if found.state != "signed":
        first = {
            "open": "close and sign it first",
            "closed": "sign it first",
            "abandoned": "inspect again",
        }
        text = f"correct: inspection {found.id} is {found.state}; {first[found.state]}"
        raise CommandRefusedError("out-of-order", text)
    if len(found.corrections) >= MOST:
        text = f"correct: {found.id} was corrected {MOST} times already; inspect again"
        raise CommandRefusedError("out-of-order", text)
    _refuse_unread(command, found.header, known)
    if (misspelt := misspelt_said(command.engine, command.damper, known)) is not None:
        raise CommandRefusedError("malformed", f"correct: {misspelt}")
    header = _corrected(command, found.header, known)
    changed = changes_between(found.header, header)
    if not changed and not command.remark:
        text = f"correct: what you say of {found.id} is what its record says already"
        raise CommandRefusedError("malformed", text)
    if (looser := _looser_said(header, found, known)) is not None:
        raise CommandRefusedError("malformed", f"correct: {looser}")
    may_differ = _judged_by(header) != _judged_by(found.header) or found.opened.software != software
    was, becomes = verdicts(header) if may_differ else ("", "")
    if becomes == "keep" != was:
        text = f"correct: {found.id} was signed as {was}, and would be keep with that: inspect again"
        raise CommandRefusedError("out-of-order", text)
    answer: dict[str, Any] = {"inspection": found.id, "changed": [change.key for change in changed]}
    said: dict[str, Any] = {}
    warnings = unknown_said(command.engine, command.damper, known)
    if was != becomes:
        said = {"verdict_was": was, "verdict": becomes}
        warning = f"{found.id} was signed as {was}: by its correction it is {becomes}; act on that"
        if found.decision is not None and lapses(found.decision, was, becomes):
            warning += f"; the decision {found.decision} was taken against {was} and counts no more"
        warnings.insert(0, warning)
        answer["verdict"] = becomes
    if warnings:
        answer["warnings"] = warnings
    event = Corrected(
        **common,
        utc=rfc3339(now),
        name=command.name,
        why=command.why,
        header=header,
        remark=command.remark,
        **said,
    )
    return [event], answer


def _refuse_unread(command: commands.Correct, header: Header, known: Known) -> None:
    """Whether rating and kind were told, or are the register's of another serial, only it can say."""
    is_rated = header.engine.rating_kw is not None
    is_known = (header.damper.family, header.damper.construction) != (None, None)
    if not known.is_read and ((command.engine and is_rated) or (command.damper and is_known)):
        text = "correct: the register has not been read yet, which another serial needs; send it in a moment"
        raise CommandRefusedError("out-of-order", text)


def _looser_said(header: Header, found: InspectionState, known: Known) -> str | None:
    """Why a kind of damper is not corrected to, or a damper with it, that the register has otherwise: as for
    `open`. What was told before and stays is not asked about again."""
    method = Method.model_validate(found.opened.method)
    before, now = (looser_said(one.engine, one.damper, known, method) for one in (found.header, header))
    return None if now == before else now


def _judged_by(header: Header) -> tuple[Any, ...]:
    """What of a header a verdict hangs on: limits go by the damper, what suits by the engine too."""
    return header.damper.family, header.damper.edge, header.engine.rating_kw


def _corrected(command: commands.Correct, header: Header, known: Known) -> Header:
    def given(*keys: str) -> dict[str, Any]:
        said = {key: getattr(command, key) for key in keys if getattr(command, key) is not None}
        return {key: float(one) if isinstance(one, Decimal) else one for key, one in said.items()}

    engine, damper = given("distance_km", "hours_h"), given("construction")
    if command.engine is not None:
        engine |= _of_engine(command.engine, header.engine, known)
    if command.damper is not None:
        damper = _of_damper(command.damper, header.damper, known) | damper
    return header.model_copy(
        update={
            "engine": header.engine.model_copy(update=engine),
            "damper": header.damper.model_copy(update=damper),
            **given("work_order"),
        }
    )


def _of_engine(serial: str, before: EnginePart, known: Known) -> dict[str, Any]:
    """Another engine has another rating: what the register said of the wrong one is not known of this one."""
    rating_kw = known.ratings_kw.get(serial)
    if rating_kw is None and before.rating_kw != known.ratings_kw.get(before.serial):
        rating_kw = before.rating_kw  # as it was told
    return {"serial": serial, "rating_kw": rating_kw}


def _of_damper(serial: str, before: DamperPart, known: Known) -> dict[str, Any]:
    """And another damper is of another kind."""
    said: dict[str, Any] = {"serial": serial}
    of_this, of_that = (known.dampers.get(one, (None, None)) for one in (serial, before.serial))
    for key, this, that in zip(("family", "construction"), of_this, of_that, strict=True):
        told = getattr(before, key)
        said[key] = this if this is not None else told if told != that else None
    return said
