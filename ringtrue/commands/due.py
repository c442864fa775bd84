"""`ringtrue due`: which engines are due for an inspection, and when the others will be."""

from __future__ import annotations

import argparse
import json
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ringtrue.arguments import UsageError
from ringtrue.programme_places import NoRegisterError, add_places, method_of, records_url
from ringtrue.records_options import add_writer

if TYPE_CHECKING:
    from records.order import Order

EXAMPLE = """\
An engine is due by distance, hours or calendar, whichever comes first, from the last inspection that
ended in keep, or else from the fitting of its damper; and at once after an event (ringtrue register
event) or a verdict of replace. When a counter will be there is predicted from its readings, those of
the register and those of inspections.

overdue, due    stop it for an inspection
unknown         nothing on record says since when it counts, or how far a counter has come
due soon        within the method's days, or with no more than its share of the interval left
~               before a day: it is predicted

exit: 0 an engine is overdue, due, unknown or due soon; 1 none is; 2 usage; 3 it cannot tell
(configuration, method or records).

examples:
  ringtrue due
  ringtrue due GQ-E-2207 --json
  ringtrue due --all --ical due.ics
  ringtrue due --writer writer.toml --records sqlite:///register.db --method quarry-4.toml
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "due",
        help="engines due or due soon, by distance, hours, calendar and events",
        description="Tells which engines are due for an inspection, and when.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("engines", nargs="*", metavar="ENGINE", help="only these, due or not")
    parser.add_argument("--all", action="store_true", help="those that are not due yet as well")
    parser.add_argument("--json", action="store_true", help="print all of it as one JSON object")
    parser.add_argument(
        "--ical",
        type=Path,
        metavar="FILE",
        help="write a calendar (RFC 5545) with a day for each engine; written again, it moves them",
    )
    add_places(parser)
    add_writer(
        parser,
        "the configuration of a record writer: its results, by the register of --records and --method, or of "
        "--config",
    )


def run(args: argparse.Namespace) -> int:
    """Do it. 0: an engine is due or will be soon; 1: none is."""
    from ringtrue.due_words import as_data, as_text
    from ringtrue.dues import dues_of, on_record

    if args.writer is not None:
        _refuse_unless_named(args)
    method = method_of(args)
    filed, left_out = _of_a_fleet(args)
    found = on_record(records_url(args), {}, filed)
    known = [record.engine for record in found.records]
    for engine in args.engines:
        if engine not in known:
            raise UsageError("ENGINE", engine, f"an engine of the register ({_some(known)})")
    if not known:
        raise NoRegisterError("the register holds no engine yet: ringtrue register import engines FILE")
    now = datetime.now().astimezone()
    asked = [one for one in found.records if not args.engines or one.engine in args.engines]
    dues, unknown = (
        dues_of(asked, method, now.date()),
        [*found.notes(now.date()), *(f"not counted: {one}" for one in left_out)],
    )
    if args.ical is not None:
        from records.calendar import as_calendar

        args.ical.write_bytes(as_calendar(dues, now))
    if args.json:
        print(json.dumps(as_data(dues, unknown, method, now.date()), ensure_ascii=False))
    else:
        shown = bool(args.all or args.engines)
        print("\n".join(as_text(dues, unknown, now.date(), with_all=shown)))
    if args.ical is not None:
        print(f"calendar: {args.ical}", file=sys.stderr if args.json else sys.stdout)
    return 1 if all(due.state == "ok" for due in dues) else 0


def _refuse_unless_named(args: argparse.Namespace) -> None:
    """Say what a fleet's results do not hold, where no configuration names it either."""
    wanted = {
        "--method FILE (by which an engine is due)": args.method,
        "--records URL (whose register names the engines)": args.records,
    }
    missing = " and ".join(option for option, said in wanted.items() if not said)
    if missing and not args.config.exists():
        raise UsageError("--writer", "neither", f"{missing} beside it, or --config FILE of a bay or shop")


def _of_a_fleet(args: argparse.Namespace) -> tuple[tuple[list[bytes], Order] | None, list[str]]:
    """Results that a record writer keeps with their order, and what of them is left out; none where it is not
    asked."""
    if args.writer is None:
        return None, []
    from ringtrue.recording import fleet_documents

    with fleet_documents(args.writer) as (documents, left_out, order):
        return (list(documents), order), left_out


def _some(known: list[str]) -> str:
    return ", ".join(known[:8]) + (", …" if len(known) > 8 else "") if known else "it has none"
