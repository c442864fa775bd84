"""What an inspection that was closed came to, before it is signed."""

from __future__ import annotations

from acquire.bay.inspection import InspectionState, fold, to_evidence
from acquire.journal.writer import Journal
from config.method import Method
from contract.document import as_data, decode
from contract.result import Result
from grading.assess import assess


def result_of(journal: Journal, state: InspectionState) -> Result | None:
    """The result of a closed inspection: as it is kept, else graded here from what is committed.

    Closing changes no check, so the result before it says the same. None where the last of its events
    are not committed yet.
    """
    for revision in (state.revision, state.revision - 1):
        stored = journal.result(state.id, revision)
        if stored is not None:
            return decode(stored.document)
    committed = fold(journal.read(state.id))
    if committed.revision < state.revision - 1:
        return None
    return assess(to_evidence(committed), Method.model_validate(committed.opened.method))


def shortfalls(result: Result) -> list[str]:
    """Each check that keeps the verdict from `keep`, and why."""
    good = ("within", "good")
    outcomes = {name: check["outcome"] for name, check in as_data(result)["checks"].items()}
    return [f"{name} {outcome}" for name, outcome in outcomes.items() if outcome not in good]
