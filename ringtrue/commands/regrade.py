"""`ringtrue regrade`: a journalled inspection again, compared with what was recorded, byte for byte."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from config.errors import RingtrueError
from ringtrue.rule_changes import changes_since, explained

if TYPE_CHECKING:
    from acquire.journal.reader import JournalReader
    from records.store import Store

EXAMPLE = """\
exit: 0 all the same; 1 one differs; 2 usage; 3 there is no such inspection, or configuration, journal or
records cannot be used.

examples:
  ringtrue regrade 2026-11-02-GQ-E-2207
  ringtrue regrade --all --config bays/bay-2.toml
"""

ABSENT = "nothing"


@dataclass(frozen=True, slots=True)
class Difference:
    """One place where two documents differ: a path into the JSON, and what stands there."""

    path: str
    recorded: str
    now: str


@dataclass(frozen=True, slots=True)
class Regrade:
    """One recorded result compared. kept_in: `journal` or `records`.

    rules: what changed in the grading since and may be behind the differences, in words; unexplained: the
    paths that no such change touches.
    """

    inspection: str
    revision: int
    kept_in: str
    same: bool
    differences: tuple[Difference, ...]
    rules: tuple[str, ...] = ()
    unexplained: tuple[str, ...] = ()


class NothingToRegradeError(RingtrueError):
    """There is no such inspection, or nothing was recorded of it."""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "regrade",
        help="compute journalled inspections again and compare with what was recorded",
        description=(
            "Computes every recorded result of an inspection again from the journal's events and readings, "
            "and compares it byte for byte with what journal and records hold. Where an older ringtrue "
            "graded by other rules, says which have changed since."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument("inspection", nargs="?", metavar="INSPECTION", help="its id")
    which.add_argument("--all", action="store_true", help="every inspection of the journal")
    parser.add_argument(
        "--config",
        type=Path,
        default=Path("ringtrue.toml"),
        metavar="FILE",
        help="the bay's configuration, which names journal and records (default: %(default)s)",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object per comparison")


def run(args: argparse.Namespace) -> int:
    """Do it: 0 all the same, 1 a difference."""
    from acquire.errors import FoldError
    from acquire.journal.reader import JournalReader
    from config.settings import read_settings
    from records.store import Store

    settings = read_settings(args.config, os.environ)
    journal = JournalReader(settings.journal.path)
    store = Store(settings.records.url, create=False) if _exists(settings.records.url) else None
    all_same = True
    try:
        for inspection in journal.inspections() if args.all else [args.inspection]:
            try:
                for regrade in regrade_inspection(journal, store, inspection, may_be_empty=args.all):
                    all_same &= regrade.same
                    said = (
                        json.dumps(asdict(regrade), ensure_ascii=False) if args.json else _in_words(regrade)
                    )
                    print(said)
            except FoldError as error:
                if not args.all:
                    raise
                all_same = False  # and on to the others
                print(f"{inspection}: cannot be graded again: {error}", file=sys.stderr)
    finally:
        journal.close()
        if store is not None:
            store.close()
    return 0 if all_same else 1


def regrade_inspection(
    journal: JournalReader, store: Store | None, inspection: str, *, may_be_empty: bool = False
) -> Iterator[Regrade]:
    """Every recorded result of one inspection, compared. Raises NothingToRegradeError where there is none."""
    recorded = [result for result in journal.results() if result.inspection == inspection]
    if not recorded and not may_be_empty:
        raise NothingToRegradeError(_nothing(journal, inspection))
    for result in recorded:
        now = _document(journal, inspection, result.revision)
        here = _compared(inspection, result.revision, "journal", result.document, now)
        yield here
        stored = store.get(inspection, result.revision) if store is not None else None
        if stored is not None:
            # Where the journal's own copy comes out the same, no rule has changed.
            yield _compared(inspection, result.revision, "records", stored, now, by_rules=not here.same)


def _document(journal: JournalReader, inspection: str, revision: int) -> bytes:
    """What the journal's events and readings give now."""
    from acquire.bay.evidence import to_evidence
    from acquire.bay.inspection import fold
    from config.method import Method
    from contract.document import encode
    from grading.assess import assess

    with journal.naming():
        state = fold(journal.read(inspection), revision=revision)
        evidence = to_evidence(state)
    return encode(assess(evidence, Method.model_validate(state.opened.method)))


def _compared(
    inspection: str, revision: int, kept_in: str, recorded: bytes, now: bytes, *, by_rules: bool = True
) -> Regrade:
    if recorded == now:
        return Regrade(inspection, revision, kept_in, same=True, differences=())
    then = _parsed(recorded)
    found = tuple(_differences(then, _parsed(now)))
    changes = changes_since(then.get("software") if isinstance(then, dict) else None) if by_rules else ()
    return Regrade(
        inspection, revision, kept_in, False, found, *explained([one.path for one in found], changes)
    )


def _parsed(document: bytes) -> Any:
    try:
        return json.loads(document)
    except ValueError:
        return document.decode(errors="replace")


def _differences(recorded: Any, now: Any, path: str = "") -> Iterator[Difference]:
    if isinstance(recorded, dict) and isinstance(now, dict):
        for key in sorted({*recorded, *now}):
            yield from _differences(
                recorded.get(key, ...), now.get(key, ...), f"{path}.{key}" if path else key
            )
    elif isinstance(recorded, list) and isinstance(now, list) and len(recorded) == len(now):
        for place, (one, other) in enumerate(zip(recorded, now, strict=True)):
            yield from _differences(one, other, f"{path}[{place}]")
    elif recorded != now:
        yield Difference(path or "document", _shown(recorded), _shown(now))


def _shown(value: Any) -> str:
    return ABSENT if value is ... else json.dumps(value, ensure_ascii=False)


def _in_words(regrade: Regrade) -> str:
    head = f"{regrade.inspection}: revision {regrade.revision} in the {regrade.kept_in}:"
    if regrade.same:
        return f"{head} the same, byte for byte"
    if not regrade.differences:
        return f"{head} differs, in how it is written only"
    lines = [f"  {found.path}: recorded {found.recorded}, now {found.now}" for found in regrade.differences]
    if regrade.rules:
        lines += ["  rules that changed since and may be behind it:", *(f"    {r}" for r in regrade.rules)]
    if regrade.unexplained:
        where = ", ".join(regrade.unexplained)
        lines.append(f"  no change of rule explains {where}: was journal or record altered or damaged?")
    return "\n".join([f"{head} differs", *lines])


def _nothing(journal: JournalReader, inspection: str) -> str:
    if journal.has(inspection):
        return f"{inspection}: the journal holds it, but no result of it was recorded yet"
    known = ", ".join(journal.inspections()[-5:]) or "none"
    return f"{inspection}: no such inspection in {journal.path}; the latest there: {known}"


def _exists(url: str) -> bool:
    """Whether there is a records database to compare with: one on a server is taken to be there."""
    scheme, _, path = url.partition(":///")
    return not scheme.startswith("sqlite") or Path(path).is_file()
