"""A signed inspection put right: what was written down wrong, never what was measured."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from acquire.bay.asked import Answer
from acquire.bay.inspection import InspectionState
from acquire.errors import CommandRefusedError
from acquire.journal.events import Corrected
from contract import commands
from contract.corrections import changes_between
from contract.header import Header
from contract.wire import rfc3339

MOST = 10
"""Corrections of one inspection: its document stays bounded, and more is no slip of the pencil."""


def correct(
    command: commands.Correct, common: dict[str, Any], found: InspectionState, now: datetime
) -> Answer:
    """The event, which raises the revision. common: what it shares with all."""
    if found.state != "signed":
        first = {
            "open": "close and sign it first",
            "closed": "sign it first",
            "abandoned": "it counts for nothing",
        }
        text = f"correct: inspection {found.id} is {found.state}; {first[found.state]}"
        raise CommandRefusedError("out-of-order", text)
    if len(found.corrections) >= MOST:
        text = f"correct: {found.id} was corrected {MOST} times already; inspect again"
        raise CommandRefusedError("out-of-order", text)
    header = _corrected(command, found.header)
    changed = changes_between(found.header, header)
    if not changed and not command.remark:
        text = f"correct: what you say of {found.id} is what its record says already"
        raise CommandRefusedError("malformed", text)
    event = Corrected(
        **common, utc=rfc3339(now), name=command.name, why=command.why, header=header, remark=command.remark
    )
    return [event], {"inspection": found.id, "changed": [change.key for change in changed]}


def _corrected(command: commands.Correct, header: Header) -> Header:
    def given(*keys: str) -> dict[str, Any]:
        said = {key: getattr(command, key) for key in keys if getattr(command, key) is not None}
        return {key: float(one) if isinstance(one, Decimal) else one for key, one in said.items()}

    engine, damper = given("distance_km", "hours_h"), given("construction")
    if command.engine is not None:
        engine["serial"] = command.engine
    if command.damper is not None:
        damper["serial"] = command.damper
    return header.model_copy(
        update={
            "engine": header.engine.model_copy(update=engine),
            "damper": header.damper.model_copy(update=damper),
            **given("work_order"),
        }
    )
