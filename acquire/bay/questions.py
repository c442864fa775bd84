"""What a sweep by dwells asks of its stops, and whether it still does: looked at when an answer comes."""

from __future__ import annotations

from acquire.angle.matched import NO_SUCH
from acquire.angle.tagger import tag_sweep
from acquire.bay.inspection import InspectionState, Take, fold
from acquire.journal.events import Stopped
from acquire.journal.writer import Journal


def unasked(journal: Journal, state: InspectionState, answer: Stopped) -> str | None:
    """Why an answer would come to nothing, and what to do instead; None where it tells something."""
    committed = fold(journal.read(state.id))
    if committed.revision < state.revision:
        return "the answer before is still being written; wait for its reply, then send mark anew"
    taken = (one for one in committed.finished if isinstance(one, Take))
    sweep = next(one for one in taken if one.begun.seq == answer.sweep)
    asks = tag_sweep([sweep.begun, *sweep.events]).question
    if asks is None:
        check = sweep.begun.check
        return (
            f"the sweep of the {check} asks nothing about its stops any more, so nothing is changed; see its "
            f"result, and where a stop was named wrongly, take the {check} again"
        )
    then = tag_sweep([sweep.begun, *sweep.events, answer]).question
    return then.said if then is not None and then.said.startswith(NO_SUCH) else None
