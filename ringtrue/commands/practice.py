"""`ringtrue practice`: a trainee inspects a virtual damper, and is told what they missed."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from ringtrue.commands.demo import speed_factor

EXAMPLE = """\
exit: 0 ended; 1 the exam was not passed; 2 usage; 3 it could not run.

examples:
  ringtrue practice
  ringtrue practice --fault dirty-mounting --seed 3
  ringtrue practice --exam 12
  ringtrue practice --exam 12 --script acts.txt --json > result.json
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    from simulators.specimen import FAULTS

    parser = subparsers.add_parser(
        "practice",
        help="inspect a virtual damper, and be told what was missed",
        description=(
            "Starts the bay daemon with simulated gauges and gives you a damper that may have a fault: look, "
            "bar, measure, record, decide. At the end your figures and your verdict are held against the "
            "truth. An exam gives everybody the same damper for the same number, without hints."
        ),
        epilog=f"faults:\n  {', '.join(FAULTS[:6])},\n  {', '.join(FAULTS[6:])}\n\n{EXAMPLE}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    which = parser.add_mutually_exclusive_group()
    which.add_argument(
        "--fault", choices=FAULTS, metavar="NAME", help="this one (default: one that the seed draws)"
    )
    which.add_argument("--exam", type=int, metavar="N", help="an exam, by its number")
    parser.add_argument(
        "--seed", type=int, metavar="N", help="the same damper for the same number (default: any)"
    )
    parser.add_argument(
        "--script", type=Path, metavar="FILE", help="play acts from a file, one a line, # for comments"
    )
    parser.add_argument(
        "--json", action="store_true", help="print the result as a document; all else goes to stderr"
    )
    parser.add_argument(
        "--speed", type=speed_factor, default=1.0, metavar="N", help="of barring, times real time, 0.1 to 30"
    )
    parser.add_argument(
        "--folder",
        type=Path,
        default=Path("ringtrue-practice"),
        metavar="DIR",
        help="where configuration, journal and results go (default: %(default)s)",
    )


def run(args: argparse.Namespace) -> int:
    """Do it."""
    import asyncio
    import random
    from contextlib import redirect_stdout

    from config.errors import RingtrueError
    from ringtrue.practice.practising import Task
    from ringtrue.practice.session import Session

    if args.exam is not None and args.seed is not None:
        print("ringtrue practice: an exam's number is its seed: leave --seed out", file=sys.stderr)
        return 2
    script = None
    if args.script is not None:
        try:
            script = args.script.read_text(encoding="utf-8").splitlines()
        except (OSError, UnicodeError) as error:
            reason = getattr(error, "strerror", None) or "it is no text in UTF-8"
            raise RingtrueError(f"{args.script} cannot be read: {reason}") from None
    seed = args.exam if args.exam is not None else args.seed
    if seed is None:
        seed = random.SystemRandom().randint(1, 9_999)
    task = Task(seed, args.fault, args.exam)
    try:
        with redirect_stdout(sys.stderr if args.json else sys.stdout):
            review = asyncio.run(Session(args.folder, task, speed=args.speed, script=script).run())
    except asyncio.CancelledError:  # told to go, as Ctrl-C would
        raise KeyboardInterrupt from None
    if review is None:
        return 0
    if args.json:
        print(json.dumps(review.as_data(), ensure_ascii=False))
    return 1 if args.exam is not None and not review.mark.is_passed else 0
