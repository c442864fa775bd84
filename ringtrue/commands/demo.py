"""`ringtrue demo`: one whole inspection on this machine, with simulated gauges on real serial lines."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

EXAMPLE = """\
exit: 0 shown; 2 usage; 3 it could not run; 130 interrupted.

examples:
  ringtrue demo
  ringtrue demo --speed 20 --seed 7 --folder trial
"""

# Beyond this the lines carry more readings a second than a gauge's port ever does.
SPEED_MOST = 30.0
SPEED_LEAST = 0.1


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "demo",
        help="one whole inspection with simulated gauges",
        description=(
            "Starts the bay daemon with its built-in broker, plugs in a simulated indicator and encoder, "
            "bars an invented engine over twice, and inspects its damper, on the engine and on the bench, "
            "from open to signed."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "--speed",
        type=speed_factor,
        default=1.0,
        metavar="N",
        help="times real time, 0.1 to 30 (default: 1, a minute and a half)",
    )
    parser.add_argument(
        "--seed", type=int, default=1, metavar="N", help="of hand and gauges (default: %(default)s)"
    )
    parser.add_argument(
        "--folder",
        type=Path,
        default=Path("ringtrue-demo"),
        metavar="DIR",
        help="where configuration, journal, records and pictures go (default: %(default)s)",
    )


def run(args: argparse.Namespace) -> int:
    """Do it."""
    import asyncio

    from ringtrue.demonstration import Demonstration

    try:
        asyncio.run(Demonstration(args.folder, speed=args.speed, seed=args.seed).run())
    except asyncio.CancelledError:  # told to go, as Ctrl-C would
        raise KeyboardInterrupt from None
    return 0


def speed_factor(text: str) -> float:
    """What `--speed` says. Raises ArgumentTypeError."""
    try:
        speed = float(text)
    except ValueError:
        speed = 0.0
    if not SPEED_LEAST <= speed <= SPEED_MOST:
        raise argparse.ArgumentTypeError(f"a number from {SPEED_LEAST:g} to {SPEED_MOST:g}, not {text!r}")
    return speed
