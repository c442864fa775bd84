"""What the journal says of an inspection that is over, against the result of it that was kept before.

Once it is closed nothing is measured, looked at or named any more but by a correction: what is another by
then was altered, by a disk or a hand.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from contract.header import Header
from contract.terms import ObservedName
from grading.evidence import Observed
from grading.observed.visual import judge_observed

if TYPE_CHECKING:
    from acquire.journal.reader import StoredResult
    from config.method import Method
    from grading.evidence import Inspection


def altered(journal: Path, before: StoredResult, evidence: Inspection, method: Method) -> str | None:
    """What in the journal is another than in the result kept before, where that was no open one's."""
    if before.revision >= evidence.revision:
        return None
    said = json.loads(before.document)
    is_over = said["state"] != "open" or (
        evidence.state == "closed" and before.revision == evidence.revision - 1
    )
    if not is_over:
        return None
    if said["readings_sha256"] != evidence.readings_sha256:
        return f"its readings in {journal} are not those of its revision {before.revision}"
    if len(said.get("corrections") or ()) == len(evidence.corrections) and _header(said) != _named(evidence):
        return f"its engine and damper in {journal} are not those of its revision {before.revision}"
    checks = said["checks"]
    if any(_seen(evidence, method, name) != _told(checks.get(name)) for name in get_args(ObservedName)):
        return f"its findings by eye in {journal} are not those of its revision {before.revision}"
    return None


def _header(said: dict[str, object]) -> dict[str, object]:
    return Header.model_validate({name: said.get(name) for name in Header.model_fields}).model_dump()


def _named(evidence: Inspection) -> dict[str, object]:
    return Header.model_validate(evidence.header.model_dump()).model_dump()


def _seen(evidence: Inspection, method: Method, name: ObservedName) -> dict[str, str]:
    passes = [one for one in evidence.attempts.get(name, ()) if isinstance(one, Observed)]
    return _of({one.item: one.seen for one in judge_observed(passes, method.observed.get(name)).items})


def _told(check: dict[str, list[dict[str, str]]] | None) -> dict[str, str]:
    return _of({one["item"]: one["seen"] for one in (check or {}).get("items", ())})


def _of(items: Mapping[str, str]) -> dict[str, str]:
    return {item: seen for item, seen in items.items() if seen != "not seen"}
