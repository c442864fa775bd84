"""`ringtrue backup`: the whole bay into one file, while the daemon runs."""

from __future__ import annotations

import argparse
import json
import os
from datetime import UTC, datetime
from typing import Any

from ringtrue.arguments import add_config, placed

EXAMPLE = """\
exit: 0 the copy is whole; 2 usage; 3 none was made.

examples:
  ringtrue backup -o bay-2.tar
  ringtrue backup -o /media/stick/
  ringtrue backup --config bays/bay-2.toml -o copies/
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "backup",
        help="the whole bay into one file, while the daemon runs",
        description=(
            "Copies journal, records (where SQLite keeps them), configuration, method and own gauge profiles "
            "into one tar file with a manifest and the SHA-256 of each, each database as of one moment, "
            "whether the daemon runs or not. The file can be read by its owner only: the configuration may "
            "hold secrets. Passwords in files of their own are not copied."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_config(parser)
    parser.add_argument(
        "-o",
        "--output",
        default=".",
        metavar="FILE",
        help="the file to make, which must not exist, or a folder for one named after the bay and the time "
        "(default: here)",
    )
    parser.add_argument("--json", action="store_true", help="the manifest, with the file's name")


def run(args: argparse.Namespace) -> int:
    """Do it. Raises ConfigError, JournalError or BackupError."""
    from config.settings import read_settings
    from ringtrue import __version__
    from ringtrue.archive.packing import back_up

    settings = read_settings(args.config, os.environ)
    name = f"{settings.bay.site}-{settings.bay.name}-{datetime.now(UTC):%Y%m%dT%H%M%SZ}.tar"
    archive = placed(args.output, name)
    manifest = back_up(args.config, settings, archive, software=f"ringtrue {__version__}")
    if args.json:
        said = {"file": str(archive), **manifest.model_dump(by_alias=True)}
        print(json.dumps(said, ensure_ascii=False))
        return 0
    for part in manifest.parts:
        print(f"{part.name}: {part.size} bytes")
    for what in manifest.left_out:
        print(f"not in it: {what}")
    print(f"{archive}: whole; to look at it again: ringtrue restore {archive} --check")
    return 0
