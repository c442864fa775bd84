"""`ringtrue photo`: a picture of what was seen, beside the record, and named in it."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

EXAMPLE = """\
The picture is turned upright and written anew without what the camera added (place,
time, maker) into the bay's folder of photos; the result names it by its hash.

exit: 0 kept and recorded; 1 refused, and not kept; 2 usage; 3 no picture, or no answer (the
bay may do it yet, so the picture stays).

example:
  ringtrue photo leak.jpg --check visual --item leak --note "below the joint, at 4 o'clock"
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    from contract.kinds import named
    from ringtrue.asking import add_options

    parser = subparsers.add_parser(
        "photo",
        help="add a picture to an item of a check by eye",
        description="Keeps a picture beside the record and adds it to an item of the open inspection.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="a JPEG, PNG or WebP picture")
    parser.add_argument("--check", required=True, choices=named("items"), help="the check it belongs to")
    parser.add_argument("--item", required=True, help="the item it shows, by its name in the method")
    parser.add_argument("--inspection", help="of which it was taken (default: the one that is open)")
    parser.add_argument("--note", default="", help="what there is to see")
    parser.add_argument(
        "--folder", type=Path, help="with --url: the bay's folder of photos (default: its configuration's)"
    )
    add_options(parser)


def run(args: argparse.Namespace) -> int:
    """Do it."""
    import asyncio
    import os

    from config.settings import read_settings
    from records.photos import keep_photo
    from ringtrue.arguments import UsageError
    from ringtrue.asking import answered, ask

    folder = args.folder
    if folder is None and args.url is not None:
        raise UsageError("--url", "no --folder beside it", "--folder with it, where the bay's photos lie")
    if folder is None:
        folder = read_settings(args.config, os.environ).photos.folder
    kept = keep_photo(args.file, folder)
    arguments = {"check": args.check, "item": args.item, "file": kept.name, "note": args.note}
    arguments |= {} if args.inspection is None else {"inspection": args.inspection}
    code = answered(asyncio.run(ask(args, "photo", arguments)), as_json=args.json)
    if code != 0:  # without an answer it stays: the bay may do it yet
        kept.drop()
    return code
