"""`ringtrue history`: what a damper's services read, where each figure is heading, when it is due."""

from __future__ import annotations

import argparse
from contextlib import closing
from typing import Any

from config.errors import RingtrueError
from ringtrue.arguments import add_unit
from ringtrue.records_options import add_records, open_records

EXAMPLE = """\
A history follows the damper, whatever engine it was on; of an engine the dampers that it has carried
are listed, with the history of the last one.

The trend is a straight line with all that is not known of it: the figures' own uncertainty, and what
one service does otherwise than the next. `rate` and the figure at the next due come with 95 %
intervals; the limit is `not in sight` where the slope may be none. Where the chance of being over
comes to 5 % before the next inspection is due, that is put forward. Further than one interval ahead
all of it is an extrapolation. Engine hours count, else distance, else the calendar.

exit: 0 done; 2 usage; 3 nothing is on record of it, or the configuration or the records cannot be used.

example:
  ringtrue history GQ-D-0815
  ringtrue history GQ-E-2207 --records sqlite:///var/records.db --json
"""


class UnknownSerialError(RingtrueError):
    """Neither a damper nor an engine of the records."""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "history",
        help="a damper's figures over the services, and where they are heading",
        description=(
            "Shows every measured figure of a damper over its services, its trend, and when the next "
            "inspection is due. Reads the latest revision of each inspection on record; abandoned ones do "
            "not count, nor does a check that was invalid."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("serial", metavar="SERIAL", help="of a damper, or of an engine")
    add_records(parser)
    add_unit(parser, "of lengths (default: mm); --json stays in mm")
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def run(args: argparse.Namespace) -> int:
    """Do it."""
    from contract.lengths import UNITS
    from records.register.register import dampers_of
    from ringtrue.history_told import past_told
    from ringtrue.history_words import engine_lines, history_lines
    from ringtrue.pasts import asked_of

    with closing(open_records(args)) as store:
        asked = asked_of(store, args.serial, dampers_of(store))
    if asked is None:
        raise UnknownSerialError(
            f"history: no inspection on record of a damper or an engine {args.serial}; look at its plate, "
            "dashes count, and an engine's capitals"
        )
    history = asked.history
    if args.json:
        print(past_told(args.serial, asked, history).model_dump_json(exclude_none=True))
        return 0
    lines = engine_lines(args.serial, asked.carried) if asked.carried else ()
    print("\n".join([*lines, *history_lines(history, UNITS[args.unit])]))
    return 0
