"""`ringtrue restore`: a copy of a bay back into its place."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ringtrue.archive.restoring import Restored

EXAMPLE = """\
exit: 0 whole, or put back; 1 the file is no whole copy; 2 usage; 3 nothing was put back.

examples:
  ringtrue restore bay-2.tar --check
  ringtrue restore bay-2.tar --config bays/bay-2.toml
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "restore",
        help="a copy made by backup, back into its place",
        description=(
            "Checks a file that `backup` made, every part and each database, and puts them where they were, "
            "seen from the configuration. All or nothing: whatever stops it, everything is as it was. "
            "Refuses while a daemon uses the journal, and where something is there already. Run it as the "
            "user that the daemon runs as."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="what backup made")
    parser.add_argument(
        "--config",
        type=Path,
        default=Path("ringtrue.toml"),
        metavar="FILE",
        help="where the configuration belongs; the rest goes below its folder (default: %(default)s)",
    )
    parser.add_argument(
        "--replace",
        action="store_true",
        help="put the copy in the place of what is there, which is kept as NAME.before-TIME",
    )
    parser.add_argument("--check", action="store_true", help="only look whether the copy is whole")
    parser.add_argument("--json", action="store_true", help="the manifest, and what was put where")


def run(args: argparse.Namespace) -> int:
    """Do it: 0 done, or whole; 1 not a whole copy. Raises BackupError, JournalError, RecordsVersionError."""
    from ringtrue.archive.restoring import Restored, check, restore

    if args.check:
        done = Restored(check(args.file), {}, [])
    else:
        done = restore(args.file, args.config, replace=args.replace)
    if args.json:
        print(json.dumps(_as_json(args.file, done), ensure_ascii=False))
    else:
        print("\n".join(_in_words(args.file, args.config, done)))
    return 0


def _as_json(file: Path, done: Restored) -> dict[str, Any]:
    return {
        "file": str(file),
        **done.manifest.model_dump(by_alias=True),
        "placed": {name: str(place) for name, place in done.placed.items()},
        "kept": [str(path) for path in done.kept],
    }


def _in_words(file: Path, config: Path, done: Restored) -> list[str]:
    manifest = done.manifest
    lines = [
        f"{file}: whole; {manifest.site}/{manifest.bay} as of {manifest.made}, made by {manifest.software}"
    ]
    lines += [f"{name}: {place}" for name, place in done.placed.items()]
    lines += [f"what was there is kept: {path}" for path in done.kept]
    lines += [f"not in it: {what}" for what in manifest.left_out]
    if done.placed:
        lines.append(f"next: ringtrue check {config}")
    return lines
