"""`ringtrue inspect`: an inspection step by step, in the terminal."""

from __future__ import annotations

import argparse
import getpass
import os
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ringtrue.arguments import add_unit

if TYPE_CHECKING:
    from records.photos import KeptPhoto

EXAMPLE = """\
exit: 0 left; 2 usage, or no terminal; 3 the configuration cannot be used.

examples:
  ringtrue inspect --operator 'R. Example'
  ringtrue inspect --unit in
  ringtrue inspect --language de
  ringtrue inspect --url mqtts://broker.quarry.example:8883 --bay quarry/bay-2

One key for each choice, as the page shows it; Enter for the one that is usual.
Several screens may show one inspection: all of it is kept by the bay.
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    from display.words import LANGUAGES
    from ringtrue import connect

    parser = subparsers.add_parser(
        "inspect",
        help="be led through an inspection step by step",
        description=(
            "Leads through a whole inspection in the terminal: cautions, what to do, live figures, what was "
            "seen, results, signature. Joins the inspection that is open at the bay."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--operator", help="who uses this screen (default: the user logged in)")
    add_unit(parser, "of lengths, shown and typed (default: mm)")
    parser.add_argument(
        "--language",
        choices=LANGUAGES,
        default="en",
        help="of what is shown and asked, English or German (default: en); sentences of the bay and of the "
        "method stay as they come, and so do keys and figures",
    )
    connect.add_options(parser, any_bay=False)


def run(args: argparse.Namespace) -> int:
    """Do it, until it is left."""
    from config.settings import read_settings
    from contract.lengths import UNITS
    from ringtrue.arguments import UsageError
    from ringtrue.connect import find

    if args.url is not None and args.bay is None:
        raise UsageError("--url", "no --bay beside it", "--bay SITE/NAME with it")
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise UsageError("inspect", "no terminal", "a terminal; elsewhere use ringtrue send and watch")
    address, topics = find(args)
    try:
        operator = args.operator or getpass.getuser()
    except (KeyError, OSError):  # a user id without a name
        operator = "unknown"

    def keep(picture: Path) -> KeptPhoto:
        from records.photos import keep_photo

        return keep_photo(picture, read_settings(args.config, os.environ).photos.folder)

    from display.walk.bay import BayAtHand
    from display.words import Words
    from ringtrue.inspecting.app import InspectApp

    app = InspectApp(
        lambda on_news: BayAtHand(
            topics,
            operator,
            address,
            unit=UNITS[args.unit],
            words=Words(args.language),
            now_s=time.monotonic,
            on_news=on_news,
        ),
        signer=args.operator or "",
        keep=keep if args.url is None else None,  # else the bay's folder is elsewhere
    )
    app.run()
    return app.return_code or 0
