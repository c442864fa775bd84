"""`ringtrue gauges`: what is plugged in, how it is known again, and what to paste; or the rules of udev."""

from __future__ import annotations

import argparse
import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ringtrue.arguments import seconds_or_none

if TYPE_CHECKING:
    from config.settings import Settings

EXAMPLE = """\
examples:
  ringtrue gauges
  ringtrue gauges --seconds 10
  ringtrue gauges --seconds 0 --json
  ringtrue gauges --udev | sudo tee /etc/udev/rules.d/70-ringtrue.rules

exit: 0 something is plugged in that may be a gauge (with --udev: there are rules); 1 nothing is; 2 usage;
3 the configuration cannot be read.
"""
LISTEN_S = 1.5


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "gauges",
        help="list what is plugged in, what it sends, and the block that makes it a gauge of the bay",
        description=(
            "Lists every serial port, keyboard and USB device that a gauge may be at: how it is known again, "
            "what it calls itself, which profile reads what it sends, what it reads now, and the [[gauge]] "
            "block to paste. It sends nothing and takes nothing from anybody: a keyboard goes on typing, a "
            "HID keeps its driver; what is in use, as by the daemon, is told and not opened. What a gauge "
            "sends at its key is heard if the key is pressed meanwhile."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "--config",
        type=Path,
        default=Path("ringtrue.toml"),
        metavar="FILE",
        help="the bay's configuration, where there is one already (default: %(default)s)",
    )
    parser.add_argument(
        "--seconds", type=seconds_or_none, default=LISTEN_S, metavar="N",
        help="how long each port is listened to; 0: not at all (default: %(default)s)",
    )  # fmt: skip
    parser.add_argument("--json", action="store_true", help="print a JSON list")
    parser.add_argument(
        "--udev",
        action="store_true",
        help="print the rules by which the bay's user may open the gauges of the configuration, and say the "
        "groups that are needed",
    )


def run(args: argparse.Namespace) -> int:
    """Do it. Raises ConfigError where there is a configuration that is wrong."""
    from config.settings import read_settings

    if args.udev:
        return _udev(read_settings(args.config, os.environ))
    settings = read_settings(args.config, os.environ) if args.config.exists() else None
    return _list(args, settings)


def _list(args: argparse.Namespace, settings: Settings | None) -> int:
    from drivers.connected import connected
    from ringtrue.gauges_told import as_json, told
    from ringtrue.listening import listened

    found = listened(connected(), settings, args.seconds)
    if args.json:
        print(json.dumps([as_json(one) for one in found], ensure_ascii=False))
    elif found:
        print("\n\n".join(told(one) for one in found))
    else:
        print("nothing is plugged in that may be a gauge: check its cable, and that its adapter is supported")
    return 0 if found else 1


def _udev(settings: Settings) -> int:
    import sys

    from ringtrue.udev import groups, rules

    lines = rules(settings)
    print("\n".join(lines))
    print("\n".join(groups(settings)), file=sys.stderr)
    return 0 if any(not line.startswith("#") for line in lines) else 1
