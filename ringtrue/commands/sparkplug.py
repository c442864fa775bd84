"""`ringtrue sparkplug`: the bay as an edge node of Sparkplug, until SIGTERM or Ctrl-C."""

from __future__ import annotations

import argparse
import os
from typing import Any

from config.errors import ConfigError, Problem
from ringtrue.arguments import add_config

EXAMPLE = """\
`ringtrue run` starts it too where the configuration has [sparkplug] group.

exit: 0 done; 2 usage; 3 could not run.

examples:
  ringtrue sparkplug
  ringtrue sparkplug --config bays/bay-2.toml
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "sparkplug",
        help="the bay as an edge node of Sparkplug, on its own broker",
        description=(
            "Hears the bay as any display does, and tells status, gauges and the latest result as metrics of "
            "an edge node (Sparkplug 3.0, payload B) of the group that [sparkplug] names."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_config(parser)


def run(args: argparse.Namespace) -> int:
    """Do it. Raises ConfigError."""
    import asyncio

    return asyncio.run(_run(args))


async def _run(args: argparse.Namespace) -> int:
    import asyncio
    import signal

    from config.settings import read_settings
    from contract.topics import Topics
    from link.sparkplug.node import EdgeNode
    from link.sparkplug.numbers import kept
    from ringtrue.connect import broker_of

    settings = read_settings(args.config, os.environ)
    group, node = settings.sparkplug.group, settings.sparkplug.node or settings.bay.name
    if group is None:
        raise ConfigError([Problem(str(args.config), None, "sparkplug.group", "nothing", "a group's name")])
    topics = Topics(settings.bay.site, settings.bay.name)
    numbers = kept(settings.journal.path.parent / "sparkplug.bdseq")
    edge = EdgeNode(topics, group, node, broker_of(settings), numbers)
    for number in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(number, edge.leave)
    await edge.run()
    return 0
