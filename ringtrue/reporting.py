"""Where a report's material is found, and how its file is written."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import structlog
from pydantic import ValidationError

from acquire.bay.evidence import to_evidence
from acquire.bay.inspection import fold
from acquire.errors import AcquireError, JournalError
from acquire.journal.reader import JournalReader
from config.method import Method
from config.settings import Settings
from contract.document import encode
from contract.result import ObservedCheck, Result
from contract.serials import bare
from grading.programme.order import Place, places_of
from grading.programme.past import is_found
from grading.programme.series import order_of as came_when
from records.errors import ReportError
from records.order import NONE, order_of
from records.register.register import dampers_of
from records.register.standing import judged_of
from records.register.standing import uncounted as uncounted_of
from records.report.content import Source, read_result
from records.store import Store
from ringtrue.archive.sources import sqlite_file


def find(settings: Settings, inspection: str, revision: int | None) -> Source:
    """One revision of an inspection, or the latest: from the records or, where they lack it or have only an
    earlier one, from the journal; with the readings where they are at hand.

    Raises ReportError where neither has it, or where they contradict each other.
    """
    with _store(settings) as store, _journal(settings) as journal:
        document = _latest(store, journal, inspection, revision)
        if document is None:
            raise ReportError(_unknown(settings, journal, inspection, revision))
        result = read_result(document, inspection)
        newest = document if revision is None else _latest(store, journal, inspection, None)
        order = NONE if store is None else order_of(store)
        places = places_of(order.lines)
        others = _others(store, journal, result)
        those = [read_result(newest or document, inspection), *others]
        dampers = {} if store is None else dampers_of(store)
        uncounted = uncounted_of(judged_of(map(encode, those), order), dampers)
        source = Source(
            document,
            earlier=_earlier(others, result, places),
            later=_later(others, result, places, order.contradicted, uncounted),
            photos=photos_of(result, settings.photos.folder),
            latest=read_result(newest or document, inspection).revision,
            contested=order.contradicted,
            uncounted=uncounted,
        )
        return source if journal is None else _with_readings(source, journal, result)


def latest_document(settings: Settings, inspection: str) -> bytes | None:
    """The latest revision of an inspection; None where neither records nor journal have it. Raises
    ReportError where they contradict each other."""
    with _store(settings) as store, _journal(settings) as journal:
        return _latest(store, journal, inspection, None)


def _latest(
    store: Store | None, journal: JournalReader | None, inspection: str, revision: int | None
) -> bytes | None:
    recorded = store.get(inspection, revision) if store is not None else None
    kept = journal.result(inspection, revision) if journal is not None else None
    return _chosen(inspection, recorded, kept.document if kept is not None else None)


def _chosen(inspection: str, recorded: bytes | None, kept: bytes | None) -> bytes | None:
    if recorded is None or kept is None or recorded == kept:
        return recorded or kept
    there, here = (read_result(document, inspection).revision for document in (recorded, kept))
    if there == here:
        raise ReportError(
            f"{inspection}: records and journal hold different documents of revision {here}: "
            f"ringtrue regrade {inspection} says which is right"
        )
    return recorded if there > here else kept


def _others(store: Store | None, journal: JournalReader | None, result: Result) -> list[Result]:
    """The latest revisions of other inspections of the same damper."""
    damper = result.damper.serial
    documents = list(store.latest(damper=damper)) if store is not None else []
    documents += [kept.document for kept in journal.results()] if journal is not None else []
    found: dict[str, Result] = {}
    for document in documents:
        try:
            one = read_result(document, "an earlier inspection")
        except ReportError as error:
            structlog.get_logger().warning("left out of the history", reason=str(error))
            continue
        known = found.get(one.inspection)
        if known is None or known.revision < one.revision:
            found[one.inspection] = one
    return [
        one
        for one in found.values()  # of its latest revision only: its serial may have been corrected
        if bare(one.damper.serial) == bare(damper) and one.inspection != result.inspection
    ]


def _earlier(others: list[Result], result: Result, places: Mapping[str, Place]) -> tuple[Result, ...]:
    """Those that were opened before this one, the latest first: of one bay by its chain, as a clock may have
    been wrong."""
    before = [one for one in others if came_when(one, places) < came_when(result, places)]
    return tuple(sorted(before, key=lambda one: came_when(one, places), reverse=True))


def _later(
    others: list[Result],
    result: Result,
    places: Mapping[str, Place],
    contested: Container[str],
    uncounted: Container[str],
) -> Result | None:
    """What the damper came to last since, where it is to go, or to be measured again; None elsewhere.
    contested: ids of those of which only what they found amiss counts; uncounted: of those whose `keep` does
    not stand."""

    def counts(one: Result) -> bool:
        ended = one.decision or one.verdict
        kept = ended == "keep" and one.inspection not in contested and one.inspection not in uncounted
        return is_found(one) and (kept or ended in ("replace", "measure-again"))

    ended = [one for one in others if came_when(one, places) > came_when(result, places) and counts(one)]
    last = max(ended, key=lambda one: came_when(one, places), default=None)
    return None if last is None or (last.decision or last.verdict) == "keep" else last


def _with_readings(source: Source, journal: JournalReader, result: Result) -> Source:
    """Readings and method as they were at this revision; without them where they are not this document's."""
    if not journal.has(result.inspection):
        return source
    try:
        with journal.naming():
            state = fold(journal.read(result.inspection), revision=result.revision)
            evidence = to_evidence(state)
        method = Method.model_validate(state.opened.method)
    except (AcquireError, ValidationError) as error:  # of another version, or damaged: the result will do
        structlog.get_logger().warning("pictures without readings", reason=" ".join(str(error).split()))
        return source
    if evidence.readings_sha256 != result.readings_sha256:
        return source
    return replace(source, evidence=evidence, method=method)


def _unknown(settings: Settings, journal: JournalReader | None, inspection: str, revision: int | None) -> str:
    if journal is not None and journal.has(inspection):
        if (latest := journal.result(inspection)) is None:
            return f"{inspection}: the journal holds it, but no result of it was recorded yet"
        return f"{inspection}: no result of revision {revision} is kept; the latest is {latest.revision}"
    known = ", ".join(journal.inspections()[-5:]) if journal is not None else ""
    what = inspection if revision is None else f"{inspection}, revision {revision}"
    where = f"records nor journal ({settings.journal.path})"
    return f"{what}: neither {where} have it; the latest there: {known or 'none'}"


@contextmanager
def _store(settings: Settings) -> Iterator[Store | None]:
    """The records where there are any yet: one on a server is taken to be there."""
    file = sqlite_file(settings.records.url)
    if file is not None and not file.is_file():
        yield None
        return
    with closing(Store(settings.records.url, create=False)) as store:
        yield store


@contextmanager
def _journal(settings: Settings) -> Iterator[JournalReader | None]:
    """The journal where it is there and whole: without it the records will do."""
    if not settings.journal.path.is_file():
        yield None
        return
    try:
        reader = JournalReader(settings.journal.path)
    except JournalError as error:
        structlog.get_logger().warning("report without the journal", reason=str(error))
        yield None
        return
    with closing(reader) as journal:
        yield journal


def photos_of(result: Result, folder: Path) -> dict[str, bytes]:
    """The photos that a result names and that lie in the folder as they did: each is named for its hash."""
    found = {}
    for check in result.checks.by_name().values():
        for item in check.items if isinstance(check, ObservedCheck) else ():
            for photo in item.photos or ():
                file = folder / Path(photo.file).name
                try:
                    data = file.read_bytes()
                except OSError:
                    continue  # the report names it as not at hand
                if sha256(data).hexdigest() == file.stem:
                    found[photo.file] = data
                else:
                    structlog.get_logger().warning("photo altered, left out", file=str(file))
    return found
