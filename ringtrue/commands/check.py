"""`ringtrue check`: whether TOML files of ours are good, and if not, where not."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from config.errors import ConfigError, Problem

if TYPE_CHECKING:
    from config.settings import Settings

EXAMPLE = """\
exit: 0 all good; 1 a file holds a mistake; 2 usage.

examples:
  ringtrue check ringtrue.toml
  ringtrue check writer.toml
  ringtrue check gauges/*.toml methods/*.toml
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "check",
        help="check TOML files: a bay's or a record writer's configuration, gauge profiles, methods",
        description=(
            "Checks files of any of our kinds and names every mistake by file, line and key. A bay's "
            "configuration, and a record writer's, is checked with the files and folders it names; a gauge "
            "profile must pass its own proofs."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", nargs="+", type=Path, metavar="FILE", help="what to check")
    parser.add_argument("--json", action="store_true", help="one JSON object per file")


def run(args: argparse.Namespace) -> int:
    """Do it: 0 all good, 1 mistakes."""
    code = 0
    for file in args.file:
        kind, problems = check(file)
        code = 1 if problems else code
        said = hint(file) if kind == "method" and not problems else None
        if args.json:
            found = [asdict(problem) for problem in problems]
            data = {"file": str(file), "kind": kind, "good": not problems, "problems": found}
            print(json.dumps(data | ({"hint": said} if said else {}), ensure_ascii=False))
        elif problems:
            print("\n".join(map(str, problems)), file=sys.stderr)
        else:
            print(f"{file}: a good {kind}" + (f"\n  {said}" if said else ""))
    return code


def hint(file: Path) -> str | None:
    """What to look at in a good method: its name may be that of one that ships and says something else."""
    from config.files import shipped, shipped_names
    from config.method import Method
    from config.toml import read_toml

    ours = read_toml(file, Method)
    for name in shipped_names("methods"):
        other = read_toml(shipped("methods", name), Method)
        if (ours.id, ours.version) == (other.id, other.version) and ours != other:
            return (
                f"hint: id {ours.id} and version {ours.version} are those of a method that ships, which says "
                f"something else (ringtrue method diff {name} {file}): give it an id of its own"
            )
    return None


def check(file: Path) -> tuple[str, list[Problem]]:
    """What kind of file it is, by its `schema`, and all its mistakes."""
    from config.method import Method
    from config.profile import GaugeProfile
    from config.toml import read_toml
    from config.whose import kind_of
    from config.writer import read_writer
    from drivers.proof import failures
    from ringtrue.plugged import read_plugged

    kind = kind_of(file) or "bay configuration"
    if not file.exists():
        return kind, [Problem(str(file), None, "file", "no such file", "a TOML file")]
    try:
        if kind == "gauge profile":
            profile = read_toml(file, GaugeProfile)
            proofs = [line.removeprefix(f"{profile.id}: ") for line in failures(profile)]
            return kind, [
                Problem(str(file), None, "proof", line, "readings as the proof says") for line in proofs
            ]
        if kind == "method":
            read_toml(file, Method)
        elif kind == "writer's configuration":
            return kind, list(unreadable(file, read_writer(file, os.environ).files()))
        else:
            return kind, list(absent(file, read_plugged(file, os.environ).settings))
    except ConfigError as err:
        return kind, err.problems
    return kind, []


def absent(file: Path, settings: Settings) -> Iterator[Problem]:
    """The files that a bay's configuration names and needs, where they cannot be read, and the folders of
    those that it makes, where they cannot be written."""
    mqtt, webhook = settings.mqtt, settings.webhook
    named = {
        f"{name}.{key}": getattr(section, key)
        for name, section in (("mqtt", mqtt), ("bridge", settings.bridge))
        for key in ("password_file", "ca_file", "certificate", "key")
    }
    named |= {"webhook.secret_file": webhook.secret_file, "webhook.ca_file": webhook.ca_file}
    yield from unreadable(file, named)
    from ringtrue.in_force import NotVouchedForError, method_handed_out

    try:
        method_handed_out(settings)
    except NotVouchedForError as error:
        yield Problem(str(file), None, "method.authority", str(error), "what this key has signed")
    scheme, _, records = settings.records.url.partition(":///")
    made = {"journal.path": settings.journal.path.parent}
    if mqtt.built_in:
        made["mqtt.folder"] = mqtt.folder
    if scheme.startswith("sqlite") and records not in ("", ":memory:"):
        made["records.url"] = Path(records).parent
    for key, folder in made.items():
        there = next(place for place in (folder, *folder.parents) if place.exists())
        if not there.is_dir() or not os.access(there, os.W_OK | os.X_OK):
            found = f"{there}, which is none" if not there.is_dir() else f"{there}, which is read-only"
            yield Problem(str(file), None, key, found, "a folder that this user can write")


def unreadable(file: Path, needed: Mapping[str, Path | None]) -> Iterator[Problem]:
    """Of the files that a configuration names, by their keys, those that cannot be read."""
    for key, one in needed.items():
        if one is not None and not (one.is_file() and os.access(one, os.R_OK)):
            yield Problem(str(file), None, key, f"{one}, which is none", "a file that can be read")
