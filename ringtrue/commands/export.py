"""`ringtrue export`: records out, as JSON or CSV."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime
from typing import Any

from ringtrue.records_options import add_records, open_records

EXAMPLE = """\
exit: 0 done; 2 usage; 3 the configuration or the records cannot be used.

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
    add_records(parser)


def run(args: argparse.Namespace) -> int:
    """Do it."""
    from records.export import as_csv, as_json

    store = open_records(args)
    try:
        lines = {"json": as_json, "csv": as_csv}[args.format](store.latest(args.since))
        sys.stdout.writelines(lines)
    finally:
        store.close()
    return 0


def _moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no date such as 2026-11-01") from None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment
