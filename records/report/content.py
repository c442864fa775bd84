"""From a result document, and what is at hand beside it, to what a report says."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256

from pydantic import ValidationError

from config.method import Method
from contract.document import decode
from contract.lengths import LengthUnit
from contract.result import Result
from contract.told import result_in
from grading.decision.verdict import verdict_of
from grading.evidence import Inspection
from records.errors import ReportContradictsError, ReportError
from records.report.drawings import drawings
from records.report.figures import check_table, found_bad, notes, photos, reasons, seen_by_eye
from records.report.head import ADVISES, headline, identity, tone
from records.report.page import Page, Section
from records.report.papers import cautions, history, papers, signature


@dataclass(frozen=True, slots=True)
class Source:
    """What a report is made of. document: a result document, byte for byte; all else may lack.

    evidence, method: from the journal, of the same revision. earlier: of the same damper, the latest first.
    later: of the same damper, what it came to last since, where that is not keep.
    photos: those at hand, by the names that the document gives them. latest: the highest revision known of
    this inspection. contested: by an inspection's id the bays whose results of it contradict each other;
    uncounted: why its `keep` does not stand.
    """

    document: bytes
    evidence: Inspection | None = None
    method: Method | None = None
    earlier: tuple[Result, ...] = ()
    later: Result | None = None
    photos: Mapping[str, bytes] = field(default_factory=dict)
    latest: int = 0
    contested: Mapping[str, str] = field(default_factory=dict)
    uncounted: Mapping[str, str] = field(default_factory=dict)


def read_result(document: bytes, name: str) -> Result:
    """The result in a document. Raises ReportError, with the document's name, where it is none."""
    try:
        result = decode(document)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"]) or "document"
        raise ReportError(
            f"{name}: not a result document: {place}: {first['msg']}; expected a ringtrue/result/1 object"
        ) from None
    for moment in filter(None, (result.opened, result.closed, result.signed)):
        try:
            datetime.fromisoformat(moment)
        except ValueError:
            raise ReportError(f"{name}: not a result document: {moment[:40]!r} is no time") from None
    return result


def file_stem(result: Result) -> str:
    """What a file of this revision is called, without its ending: an id may be anything."""
    return re.sub(r"[^\w.-]+|^[.-]+", "_", f"{result.inspection}-{result.revision}")


def compose(source: Source, unit: LengthUnit) -> Page:
    """The report. Raises ReportContradictsError where the document's verdict is not what its checks add up
    to: such a one was altered, and is no report's to repeat."""
    document = source.document
    result = result_in(read_result(document, "the document"), unit)
    outcomes = {name: check.outcome for name, check in result.checks.by_name().items()}
    if verdict_of(outcomes) != result.verdict:
        raise ReportContradictsError(
            f"{result.inspection}: the document says {result.verdict}, and its checks add up to "
            f"{verdict_of(outcomes)}: it was altered, and no report is made of it; find the original"
        )
    bays = source.contested.get(result.inspection)
    why = source.uncounted.get(result.inspection)
    large, notice, says = headline(result, source.latest, bays, source.later, why)
    state = result.state if result.revision >= source.latest else f"{result.state}, superseded"
    digest = sha256(document).hexdigest()
    sections = (
        Section("What was inspected", (identity(result),)),
        Section("Checks", (check_table(result, unit),)),
        found_bad(result),
        Section("Reasons", (reasons(result),)),
        drawings(result, source.evidence, unit),
        history(source.earlier, source.contested, source.uncounted, unit),
        signature(result, source.latest),
        seen_by_eye(result),
        notes(result, unit),
        cautions(result, source.method),
        papers(result, document, unit),
        photos(result, source.photos),
    )
    return Page(
        title=f"Damper inspection {result.inspection}",
        subtitle=f"Report of revision {result.revision}, {state}",
        headline=large,
        tone=tone(result, source.latest, bays, source.later, why),
        notice=notice,
        says=says,
        code=f"{result.schema_} {result.inspection} {result.revision} sha256:{digest}",
        sections=tuple(section for section in sections if section is not None),
        foot=f"{result.inspection}, revision {result.revision}, {state}. {ADVISES}",
        made=result.signed or result.closed or result.opened,
        document=document,
        document_name=f"{file_stem(result)}.json",
    )
