"""`ringtrue export`: records out, as JSON, CSV, Parquet or QIF."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ringtrue.arguments import UsageError
from ringtrue.records_options import NoRecordsError, add_records, open_records

if TYPE_CHECKING:
    from records.store import Store

EXAMPLE = """\
exit: 0 done; 2 usage; 3 the configuration or the records cannot be used, or the file cannot be made.

examples:
  ringtrue export --format csv > inspections.csv
  ringtrue export --since 2026-11-01 --config bays/bay-2.toml
  ringtrue export --format qif --inspection truck-14-november -o truck-14.qif
  ringtrue export --format parquet -o quarry.parquet
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "export",
        help="records out, as JSON, CSV, Parquet or QIF",
        description="Writes the latest revision of every inspection on record, to standard output or a file.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "--format",
        choices=("json", "csv", "parquet", "qif"),
        default="json",
        help="json: whole documents, one on each line of an array; csv, parquet: one row per check; "
        "qif: one QIF 3.0 document of all of them",
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
    parser.add_argument("--inspection", metavar="ID", help="only this one")
    parser.add_argument(
        "-o", "--output", type=Path, metavar="FILE", help="the file to make, which must not exist"
    )
    add_records(parser)


def run(args: argparse.Namespace) -> int:
    """Do it. Raises UsageError, ConfigError, RecordsError or NotWrittenError."""
    from ringtrue.writing import write_new

    if args.output is None and args.format == "parquet" and sys.stdout.isatty():
        raise UsageError("--format", "parquet", "-o FILE with it: that is no text for a terminal")
    store = open_records(args)
    try:
        if args.inspection is not None and store.get(args.inspection) is None:
            raise NoRecordsError(
                f"export: no inspection {args.inspection!r} is on record; `ringtrue export` has all"
            )
        parts = _parts(args.format, store.latest(args.since, inspection=args.inspection))
        if args.output is not None:
            write_new(args.output, b"".join(parts), "an export")
        else:
            for part in parts:
                sys.stdout.buffer.write(part)
        _say_contradicted(store, args.inspection)
    finally:
        store.close()
    return 0


def _say_contradicted(store: Store, inspection: str | None) -> None:
    """Beside the export, not in it: a document is not changed. One of the results is there, and no other."""
    from grading.programme.order import contradicted
    from records.order import contradicted_of

    for name, bays in sorted(contradicted_of(store).items()):
        if inspection in (None, name):
            print(f"export: {contradicted(name, bays)}", file=sys.stderr)


def _parts(form: str, documents: Iterable[bytes]) -> Iterable[bytes]:
    """The file, piece by piece."""
    if form == "parquet":
        from records.exports.parquet import as_parquet

        return [as_parquet(documents)]
    if form == "qif":
        from records.exports.qif import as_qif
        from ringtrue.pasts import results_of

        return [as_qif(results_of(documents))]
    from records.exports.texts import as_csv, as_json

    return (line.encode() for line in (as_csv if form == "csv" else as_json)(documents))


def _moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
        return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
    except (ValueError, OverflowError):
        raise argparse.ArgumentTypeError(f"{text!r} is no date such as 2026-11-01") from None
