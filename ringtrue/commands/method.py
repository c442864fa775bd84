"""`ringtrue method`: what changed between two, what would end differently; and how one is handed out."""

from __future__ import annotations

import argparse
import json
import os
import textwrap
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ringtrue.arguments import named_method
from ringtrue.method_actions import add_actions, run_action

if TYPE_CHECKING:
    from acquire.journal.reader import JournalReader
    from config.changes import Change
    from config.method import Method
    from contract.result import Check, Result

EXAMPLE = """\
With --config, or --journal, every inspection of that journal that was closed is graded again: by the
method it was opened with, and by B instead. Those that would end differently (verdict, or the outcome of
a check) are named. Nothing is written. It takes as long as grading them twice.

exit: 0 no inspection ends differently, or none was asked for; 1 one does; 2 usage; 3 a method, the
configuration or the journal cannot be used.

example:
  ringtrue method diff example my-method.toml
  ringtrue method diff my-method-1.toml my-method-2.toml --config ringtrue.toml --json
"""
WIDTH = 100
CAME_OR_WENT = {
    "required": ("{} is required now", "{} is no longer required"),
    "observed": ("is looked at now: {}", "is no longer looked at: {}"),
    "cautions": ("says now: {}", "no longer says: {}"),
}
"""How what came and what went is said, by the table it is in."""


@dataclass(frozen=True, slots=True)
class Turned:
    """A check whose outcome differs. figure_mm: true figure under B; limits as each method has them."""

    check: str
    was: str | None
    now: str | None
    was_limit_mm: float | None
    now_limit_mm: float | None
    figure_mm: float | None


@dataclass(frozen=True, slots=True)
class Differs:
    """An inspection that would end differently. verdicts: by its own method, by B."""

    inspection: str
    was: str
    now: str
    checks: tuple[Turned, ...]


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "method",
        help="what changed between two methods; how one is signed and handed out to all bays",
        description=(
            "What changed from one method to another (diff), and how one is handed out to all bays of a site "
            "(key, sign, publish); each has a --help of its own."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    diff = actions.add_parser(
        "diff",
        help="from one method to another",
        description=textwrap.fill(
            "Says key by key what changed from method A to method B, with old and new value and what the key "
            "means, and which inspections of a journal would end differently under B.",
            80,
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    for name in ("a", "b"):
        diff.add_argument(name, metavar=name.upper(), help="a method's file, or the name of one that ships")
    add_actions(actions)
    which = diff.add_mutually_exclusive_group()
    which.add_argument(
        "--config", type=Path, metavar="FILE", help="a bay's configuration, which names the journal"
    )
    which.add_argument("--journal", type=Path, metavar="FILE", help="the journal itself")
    diff.add_argument("--json", action="store_true", help="print one JSON object")


def run(args: argparse.Namespace) -> int:
    """Do it; the exit codes are in the help."""
    from config.changes import changes_of

    if args.action != "diff":
        return run_action(args)
    old, new = named_method(args.a, "A"), named_method(args.b, "B")
    changes = changes_of(old, new)
    journal = _journal(args)
    try:
        if args.json:
            found = [] if journal is None else [*_differing(journal, new)]
            print(_as_json(old, new, changes, found, journal), flush=True)
            return 1 if found else 0
        print(f"{old.id} version {old.version} -> {new.id} version {new.version}")
        print("\n".join(_in_words(changes)))
        if journal is None:
            return 0
        return _tell(journal, new)
    finally:
        if journal is not None:
            journal.close()


def _journal(args: argparse.Namespace) -> JournalReader | None:
    from acquire.journal.reader import JournalReader
    from config.settings import read_settings

    path: Path | None = args.journal
    if args.config is not None:
        path = read_settings(args.config, os.environ).journal.path
    return None if path is None else JournalReader(path)


def _tell(journal: JournalReader, new: Method) -> int:
    if not journal.inspections():
        print(f"{journal.path}: no inspection in it yet, so none ends differently")
        return 0
    code = 0
    for differs in _differing(journal, new):
        code = 1
        print(_turned(differs), flush=True)
    if code == 0:
        print("no inspection that was closed would end differently")
    return code


def _differing(journal: JournalReader, new: Method) -> Iterator[Differs]:
    """The closed inspections that end differently under the new method than under their own."""
    from acquire.bay.evidence import to_evidence
    from acquire.bay.inspection import fold
    from config.method import Method
    from grading.assess import assess

    for inspection in journal.inspections():
        with journal.naming():
            state = fold(journal.read(inspection))
        own = Method.model_validate(state.opened.method)
        if state.state not in ("closed", "signed") or own == new:
            continue
        evidence = to_evidence(state)
        was, now = assess(evidence, own), assess(evidence, new)
        turned = tuple(_checks(was, now))
        if turned or was.verdict != now.verdict:
            yield Differs(inspection, was.verdict, now.verdict, turned)


def _checks(was: Result, now: Result) -> Iterator[Turned]:
    before, after = was.checks.by_name(), now.checks.by_name()
    for check in [*before, *(name for name in after if name not in before)]:
        one, other = before.get(check), after.get(check)
        outcomes = [None if part is None else part.outcome for part in (one, other)]
        if outcomes[0] != outcomes[1]:
            yield Turned(
                check,
                outcomes[0],
                outcomes[1],
                getattr(one, "limit_mm", None),
                getattr(other, "limit_mm", None),
                _figure(other),
            )


def _figure(check: Check | None) -> float | None:
    figure: float | None = getattr(check, "true_tir_mm", getattr(check, "true_spread_mm", None))
    return None if figure is None else round(figure, 6)


def _turned(differs: Differs) -> str:
    """`truck-14: keep -> replace: rim 0.270 over 0.26 (was within 0.28)`."""
    parts = []
    for one in differs.checks:
        figure = "" if one.figure_mm is None else f"{one.figure_mm:.3f} "
        now = "no longer asked for" if one.now is None else f"{figure}{_against(one.now, one.now_limit_mm)}"
        was = "not asked for" if one.was is None else _against(one.was, one.was_limit_mm)
        parts.append(f"{one.check} {now} (was {was})")
    verdict = f"{differs.was} -> {differs.now}" if differs.was != differs.now else f"still {differs.now}"
    return (
        f"{differs.inspection}: {verdict}: {'; '.join(parts)}"
        if parts
        else f"{differs.inspection}: {verdict}"
    )


def _against(outcome: str, limit_mm: float | None) -> str:
    return outcome if limit_mm is None or outcome in ("missing", "invalid") else f"{outcome} {limit_mm:g}"


def _in_words(changes: tuple[Change, ...]) -> Iterator[str]:
    told = [change for change in changes if change.key not in ("id", "version")]
    if not told:
        yield "nothing but its name has changed" if changes else "nothing has changed"
    for change in told:
        yield f"{change.key}: {_said(change)}"
        if change.meaning and _came_or_went(change) is None:
            yield from textwrap.wrap(change.meaning, WIDTH, initial_indent="    ", subsequent_indent="    ")


def _said(change: Change) -> str:
    unit = f" {change.unit}" if change.unit else ""
    if change.what == "changed":
        return f"{_spelled(change.old)} -> {_spelled(change.new)}{unit}"
    value = _spelled(change.new if change.what == "added" else change.old)
    came, went = _came_or_went(change) or ("added: {}", "removed: {}")
    return f"{(came if change.what == 'added' else went).format(value)}{unit}"


def _came_or_went(change: Change) -> tuple[str, str] | None:
    """How it is said of an entry of a list; None of a key."""
    is_entry = change.what != "changed" and change.key.count(".") < 3
    return CAME_OR_WENT.get(change.key.split(".")[0]) if is_entry else None


def _spelled(value: Any) -> str:
    """A value as a person reads it; of a table what is set in it."""
    if isinstance(value, dict):
        return ", ".join(f"{key} {_spelled(one)}" for key, one in value.items() if one is not None)
    if isinstance(value, list):
        return ", ".join(map(_spelled, value)) or "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _as_json(
    old: Method,
    new: Method,
    changes: tuple[Change, ...],
    found: list[Differs],
    journal: JournalReader | None,
) -> str:
    data: dict[str, Any] = {
        name: {"id": method.id, "version": method.version, "sha256": method.sha256()}
        for name, method in (("a", old), ("b", new))
    }
    data["changes"] = [
        {key: value for key, value in asdict(change).items() if value not in (None, "")} for change in changes
    ]
    if journal is not None:
        data["journal"] = str(journal.path)
        data["differ"] = [asdict(one) for one in found]
    return json.dumps(data, ensure_ascii=False)
