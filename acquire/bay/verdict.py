"""What an inspection comes to that is closed, before it is signed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from acquire.bay.evidence import to_evidence
from acquire.bay.inspection import InspectionState, fold
from acquire.journal.events import Observation
from acquire.journal.writer import Journal
from acquire.judging import Judging
from config.method import Method
from contract.document import as_data, decode
from contract.header import Header
from contract.result import Result
from contract.terms import Verdict


def result_of(journal: Journal, state: InspectionState, judging: Judging) -> Result | None:
    """The result of an inspection: as it is kept, else graded here from what is committed.

    Closing changes no check, so of a closed one the result before it says the same. None where the last of
    its events are not committed yet.
    """
    least = state.revision if state.state == "open" else state.revision - 1
    for revision in range(state.revision, least - 1, -1):
        stored = journal.result(state.id, revision)
        if stored is not None:
            return decode(stored.document)
    events = journal.read(state.id)
    committed = fold(events) if events else None
    if committed is None or committed.revision < least:
        return None
    return judging(to_evidence(committed), Method.model_validate(committed.opened.method))


def verdicts_of(
    journal: Journal, state: InspectionState, header: Header, judging: Judging
) -> tuple[Verdict, Verdict] | None:
    """What an inspection came to, as it is kept, else graded here, and what it would with another header, by
    today's rules. None where its closing is not committed yet; what comes after that changes no check."""
    events = journal.read(state.id)
    committed = fold(events) if events else None
    if committed is None or committed.state not in ("closed", "signed"):
        return None
    method = Method.model_validate(committed.opened.method)
    evidence = to_evidence(committed)
    was, becomes = (judging(replace(evidence, header=one), method).verdict for one in (state.header, header))
    kept = (journal.result(state.id, revision) for revision in range(state.revision, 0, -1))
    stored = next((one for one in kept if one is not None), None)
    return was if stored is None else decode(stored.document).verdict, becomes


def closing(journal: Journal, state: InspectionState, judging: Judging) -> dict[str, Any]:
    """What the reply to `close` says of an inspection that is open still: verdict, required checks that are
    missing, and both in a sentence; without the verdict where it cannot be told yet."""
    result = result_of(journal, state, judging)
    if result is None:
        done = {f.check if isinstance(f, Observation) else f.begun.check for f in state.finished}
        method = Method.model_validate(state.opened.method)
        missing: list[str] = [
            name for name in method.required_checks(state.opened.header.scope) if name not in done
        ]
        said = "closed: the verdict is not graded yet, see the result"
        return {"missing": missing, "summary": said + _missing_said(missing)}
    short = shortfalls(result)
    missing = [one.removesuffix(" missing") for one in short if one.endswith(" missing")]
    others = ", ".join(one for one in short if not one.endswith(" missing"))
    said = f"closed: verdict {result.verdict}" + (f" ({others})" if others else "")
    return {"verdict": result.verdict, "missing": missing, "summary": said + _missing_said(missing)}


def _missing_said(missing: list[str]) -> str:
    return f"; missing: {', '.join(missing)}" if missing else ""


def shortfalls(result: Result) -> list[str]:
    """Each check that keeps the verdict from `keep`, and why."""
    good = ("within", "good")
    outcomes = {name: check["outcome"] for name, check in as_data(result)["checks"].items()}
    return [f"{name} {outcome}" for name, outcome in outcomes.items() if outcome not in good]
