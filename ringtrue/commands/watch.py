"""`ringtrue watch`: a display in the terminal; a subscriber like any other."""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from contextlib import suppress
from typing import Any

from ringtrue.arguments import add_unit

EXAMPLE = """\
exit: 0 ended by Ctrl-C; 2 usage; 3 the configuration cannot be used.

examples:
  ringtrue watch
  ringtrue watch --unit in
  ringtrue watch --url mqtts://broker.quarry.example:8883 --bay quarry/bay-2
  ringtrue watch --json | grep verdict
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    from ringtrue import connect

    parser = subparsers.add_parser(
        "watch",
        help="show what a bay publishes: live figures, gauges, results",
        description=(
            "Subscribes to a bay and shows live figures, cautions, gauges and results, until Ctrl-C. How far "
            "to bar yet stands beside the figures; `stop` says that a sweep is complete."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_unit(parser, "of lengths (default: mm); --json stays in mm")
    parser.add_argument("--json", action="store_true", help="print each message as it comes, one a line")
    connect.add_options(parser, any_bay=True)


def run(args: argparse.Namespace) -> int:
    """Do it, until interrupted."""
    import asyncio

    with suppress(KeyboardInterrupt):  # the ordinary way to end it
        asyncio.run(_watch(args))
    return 0


async def _watch(args: argparse.Namespace) -> None:
    from contract.lengths import UNITS
    from link.address import BrokerAddress
    from link.connection import Connection, stay_connected
    from link.display import connect
    from link.errors import BrokerError, LinkError
    from ringtrue.connect import find
    from ringtrue.screen import Screen

    find_address, topics = find(args)

    def address() -> BrokerAddress:
        try:
            return find_address()
        except BrokerError as err:  # a daemon that is not there may come
            raise LinkError(str(err)) from None

    drawn_over = sys.stdout.isatty() and os.environ.get("TERM") != "dumb"
    screen = Screen(sys.stdout, UNITS[args.unit], drawn_over=drawn_over, now_s=time.monotonic)
    told: list[str] = []

    async def session(connection: Connection) -> None:
        told.clear()
        await connection.subscribe(f"{topics.root}/#")
        while True:
            message = await connection.next_message()
            if args.json:
                print_raw(message.topic, message.payload, message.retained)
            else:
                screen.take(message.topic, message.payload)

    def on_down(error: LinkError) -> None:
        if str(error) not in told:
            told.append(str(error))
            screen.end_line()
            print(f"ringtrue watch: {error}; trying again", file=sys.stderr)

    await stay_connected(address, session, connect=connect, on_down=on_down)


def print_raw(topic: str, payload: bytes, retained: bool) -> None:
    """One message as one line of JSON; a payload that is no JSON as text."""
    try:
        body = json.loads(payload)
    except ValueError:
        body = payload.decode(errors="replace")
    line = {"topic": topic, "retained": retained, "payload": body}
    print(json.dumps(line, ensure_ascii=False), flush=True)
