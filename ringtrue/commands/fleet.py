"""`ringtrue fleet`: of all bays, who drifts, which bay or gauge reads high, what each method came to."""

from __future__ import annotations

import argparse
import json
from contextlib import closing
from typing import TYPE_CHECKING, Any

from ringtrue.arguments import UsageError, add_unit
from ringtrue.records_options import add_records, add_writer, open_records

if TYPE_CHECKING:
    from grading.fleet.looked import Looked

EXAMPLE = """\
drift    dampers whose figure grows, or may be over its limit within one usual interval (3 000 h,
         200 000 km or a year); the nearest to its limit first. 5 %, 50 %: by when the chance of
         being over comes to that, at the pace so far. A keep that does not count, as in due, is said
         with its damper; one by another family's limits is known by the register alone, which
         --writer has none of
bays     how much higher each bay reads than the mean of the others, by the dampers that both read;
         growth between services, refitting and each figure's uncertainty are allowed for. A bay that
         shares no damper with another cannot be compared
gauges   the same of gauges
methods  how inspections ended under each method, and how that differs from the method before

What reads high or low is said where the chance of it, adjusted for all comparisons made at once, is
below 5 %, and it has shared three dampers or more. It is a reason to look at base, gauge and hands
there, and changes no result. One that reads high makes the others look low beside it: begin with
the farthest. Who is due, of all bays: ringtrue due --writer FILE.

exit: 0 done; 2 usage; 3 the configuration or the records cannot be used.

examples:
  ringtrue fleet drift
  ringtrue fleet bays --records postgresql+psycopg://fleet@records.quarry.example/ringtrue --json
  ringtrue fleet methods --writer writer.toml
"""
WHAT = ("drift", "bays", "gauges", "methods")


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "fleet",
        help="all bays together: who drifts, which bay or gauge reads high, outcomes by method",
        description=(
            "Compares what is on record of all bays and dampers. Reads the latest revision of each "
            "inspection; a check that was invalid does not count, nor what was abandoned before it was "
            "closed. Given up later, a replace or measure-again counts as it does in due, and bays and "
            "gauges are compared by what was read all the same."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("what", choices=WHAT, metavar="WHAT", help=", ".join(WHAT))
    add_records(parser)
    add_writer(parser, "the configuration of a record writer, whose database is read instead")
    add_unit(parser, "of lengths (default: mm); --json stays in mm")
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def run(args: argparse.Namespace) -> int:
    """Do it."""
    from contract.lengths import UNITS
    from ringtrue.fleet_words import compared_lines, drift_lines, method_lines
    from ringtrue.fleets import compared_told, drifts_told, methods_told

    looked, notes = _gathered(args)
    unit = UNITS[args.unit]
    told: Any
    match args.what:
        case "drift":
            told = drifts_told(looked)
            lines = drift_lines(told, unit)
        case "methods":
            told = methods_told(looked)
            lines = method_lines(told)
        case what:
            told = compared_told(looked, "bay" if what == "bays" else "gauge")
            lines = compared_lines(told, what.removesuffix("s"), unit)
    if args.json:
        parts = [told] if args.what == "drift" else told
        said = [part.model_dump(mode="json", exclude_none=True) for part in parts]
        data = {args.what: said[0] if args.what == "drift" else said, "notes": notes}
        print(json.dumps(data, ensure_ascii=False))
        return 0
    print("\n".join([*lines, *(f"not counted: {note}" for note in notes)]))
    return 0


def _gathered(args: argparse.Namespace) -> tuple[list[Looked], tuple[str, ...]]:
    """From the records of a bay, or those that a writer keeps."""
    from records.order import order_of
    from records.register.register import dampers_of
    from ringtrue.fleets import gathered

    if args.writer is None:
        with closing(open_records(args)) as store:
            return gathered(store.latest(), order_of(store), dampers_of(store))
    from ringtrue.recording import fleet_documents

    if args.records is not None:
        raise UsageError("--writer", "--records too", "one of the two")
    with fleet_documents(args.writer) as (documents, left_out, order):
        looked, notes = gathered(documents, order, {})  # no register is there
    return looked, (*notes, *left_out)
