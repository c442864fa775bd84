"""Where the crank stands, told by a person: at the timing mark, or at a mark in a stop that is over."""

from __future__ import annotations

from typing import Any

from acquire.bay.asked import Answer, whole
from acquire.bay.heard import Heard
from acquire.bay.inspection import InspectionState, Take
from acquire.errors import CommandRefusedError
from acquire.journal.events import Mark, Observation, Stopped, Zeroed
from acquire.journal.writer import Journal
from acquire.runs.abreast import Abreast
from contract import commands
from contract.units import UDEG_PER_DEG


def by_encoder(heard: Heard, common: dict[str, Any], runs: Abreast) -> Answer | None:
    """The crank stands at the timing mark, by what the encoder says now; None where there is no encoder.
    Raises CommandRefusedError."""
    crank = heard.crank
    if crank is None or crank.gauge is None:
        return None
    heard.refuse_absent(crank.gauge, "zero")
    last = crank.fresh(common["time_ns"])
    if last is None or crank.since_ns is None:
        text = f"zero: {crank.gauge} has said nothing for some seconds; see to it and send zero again"
        raise CommandRefusedError("gauge-absent", text)
    event = Zeroed(
        **common,
        gauge=crank.gauge,
        value=last.value,
        position=crank.position,
        since_ns=crank.since_ns,
    )
    return [event], {"angle_deg": 0.0, "check": runs.first.begun.check if runs.first else None}


def stopped(
    command: commands.Mark,
    state: InspectionState,
    runs: Abreast,
    common: dict[str, Any],
    journal: Journal,
) -> Answer:
    """Which stop of the last sweep by dwells was at a mark; the same answer once more changes nothing.
    Raises CommandRefusedError."""
    last = next((take for take in reversed(state.finished) if _is_meant(take, command)), None)
    pressed = [e for e in last.events if isinstance(e, Mark)] if isinstance(last, Take) else []
    if not isinstance(last, Take) or not pressed or runs.first is not None:
        text = "mark: at_s answers a question about the stops of the last sweep by dwells; there is none"
        if runs.first is not None:
            text = "mark: at_s answers a question about a sweep that is over; end or cancel what runs first"
        raise CommandRefusedError("out-of-order", text)
    if command.angle_deg is None:
        raise CommandRefusedError("angle-needed", "mark: give angle_deg with at_s, the mark of that stop")
    angle, at_s = whole(command.angle_deg, UDEG_PER_DEG), float(command.at_s or 0)
    at_ns = pressed[0].time_ns + round(at_s * 1e9)
    event = Stopped(**common, angle_udeg=angle, at_ns=at_ns, sweep=last.begun.seq)
    answer = {"angle_deg": angle / UDEG_PER_DEG, "check": last.begun.check, "at_s": at_s}
    told = [e.at_ns for e in last.events if isinstance(e, Stopped) and e.angle_udeg == angle]
    if told and told[-1] == at_ns:
        return [], answer
    from acquire.bay.questions import unasked  # heavy: see acquire.bay.evidence

    if (why := unasked(journal, state, event)) is not None:
        raise CommandRefusedError("out-of-order", f"mark: {why}")
    return [event], answer


def _is_meant(take: Take | Observation, command: commands.Mark) -> bool:
    return (
        isinstance(take, Take)
        and take.begun.angle.source == "dwells"
        and not take.begun.across
        and command.check in (None, take.begun.check)
    )
