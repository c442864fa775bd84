"""`ringtrue export`: records out, as JSON or CSV."""

from __future__ import annotations

import argparse
import os
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from config.errors import RingtrueError
from ringtrue.arguments import missing_file


class NoRecordsError(RingtrueError):
    """There is nothing to export."""


EXAMPLE = """\
examples:
  ringtrue export --format csv > inspections.csv
  ringtrue export --since 2026-11-01 --config bays/bay-2.toml
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "export",
        help="records out, as JSON or CSV",
        description="Writes the latest revision of every inspection on record to standard output.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "--format",
        choices=("json", "csv"),
        default="json",
        help="json: whole documents, one on each line of an array; csv: one row per check",
    )
    parser.add_argument(
        "--json", dest="format", action="store_const", const="json", help="the same as --format json"
    )
    parser.add_argument(
        "--since",
        type=_moment,
        metavar="TIME",
        help="only what was recorded from then on: 2026-11-01 or 2026-11-01T06:30:00Z (UTC)",
    )
    parser.add_argument(
        "--config",
        type=Path,
        default=Path("ringtrue.toml"),
        metavar="FILE",
        help="the bay's configuration, which names the records (default: %(default)s)",
    )
    parser.add_argument(
        "--records",
        metavar="URL",
        help="a database instead of the configuration's, e.g. sqlite:///var/records.db",
    )


def run(args: argparse.Namespace) -> int:
    """Do it."""
    from config.settings import read_settings
    from records.export import as_csv, as_json
    from records.store import Store

    url = args.records or read_settings(args.config, os.environ).records.url
    _refuse_none_yet(url)
    store = Store(url, create=False)
    try:
        lines = {"json": as_json, "csv": as_csv}[args.format](store.latest(args.since))
        sys.stdout.writelines(lines)
    finally:
        store.close()
    return 0


def _refuse_none_yet(url: str) -> None:
    """Say so where the file of records is not there: it is made with the first result."""
    name = missing_file(url)
    if name is not None:
        raise NoRecordsError(
            f"export: there are no records yet: {name} is made when the daemon keeps its first result; "
            "where there should be some, --config or --records names another place"
        )


def _moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no date such as 2026-11-01") from None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment
