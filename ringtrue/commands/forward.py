"""`ringtrue forward`: results handed on to the shop's own system, until SIGTERM or Ctrl-C."""

from __future__ import annotations

import argparse
import os
from typing import TYPE_CHECKING, Any

from config.errors import ConfigError, Problem, RingtrueError
from ringtrue.arguments import UsageError, add_config, missing_file

if TYPE_CHECKING:
    from config.settings import Settings
    from records.forwarding.deliveries import Deliveries
    from records.forwarding.forwarder import Forwarder

EXAMPLE = """\
`ringtrue run` starts it too where the configuration has [webhook] url.

exit: 0 done; 1 with --once: something waits still; 2 usage; 3 could not run.

examples:
  ringtrue forward
  ringtrue forward --once --config bays/bay-2.toml
  ringtrue forward --status --json
  ringtrue forward --again
"""


class HeldError(RingtrueError):
    """Not all could be handed on."""

    exit_code = 1


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "forward",
        help="results handed on by HTTP to the shop's own system",
        description=(
            "Sends each result on record to the URL of [webhook], once, in order, as a CloudEvent; what "
            "cannot be sent now waits and is tried again."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_config(parser)
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--once", action="store_true", help="send what waits now, and end")
    what.add_argument("--status", action="store_true", help="say how it stands; send nothing")
    what.add_argument(
        "--again", action="store_true", help="let what the receiver refused be sent again; send nothing"
    )
    parser.add_argument("--json", action="store_true", help="with --status: as JSON")


def run(args: argparse.Namespace) -> int:
    """Do it. Raises UsageError, ConfigError, RecordsError or HeldError."""
    import asyncio
    from contextlib import closing

    from config.settings import read_settings
    from records.forwarding.deliveries import Standing
    from ringtrue.forwarding import deliveries_of

    settings = read_settings(args.config, os.environ)
    if settings.webhook.url is None:
        raise ConfigError(
            [Problem(str(args.config), None, "webhook.url", "nothing", "where results are sent")]
        )
    if args.json and not args.status:
        raise UsageError("--json", "no --status", "--status with it")
    if args.status or args.again:
        if missing_file(settings.records.url) is not None:  # asking makes none
            if args.again:
                print("nothing was refused: there are no records yet")
            else:
                _say(settings.webhook.url, Standing(0, 0, 0, None), as_json=args.json)
            return 0
        with closing(deliveries_of(settings)) as deliveries:
            if args.again:
                number = deliveries.again()
                print(f"{number} to be sent again" if number else "nothing was refused")
            else:
                _say(settings.webhook.url, deliveries.standing(), as_json=args.json)
        return 0
    return asyncio.run(_forward(settings, once=args.once))


def _say(url: str, standing: Any, *, as_json: bool) -> None:
    import json
    from dataclasses import asdict

    if as_json:
        print(json.dumps({"url": url, **asdict(standing)}))
        return
    print(f"{url}: {standing.delivered} delivered, {standing.refused} refused, {standing.waiting} waiting")
    if standing.oldest is not None:
        print(f"the oldest that waits is of {standing.oldest}")


async def _forward(settings: Settings, *, once: bool) -> int:
    import asyncio
    import signal
    from contextlib import closing

    from link.tasks import end
    from records.forwarding.forwarder import Forwarder
    from ringtrue.forwarding import deliveries_of, receiver_of

    stop = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(number, stop.set)
    with closing(deliveries_of(settings)) as deliveries:
        async with receiver_of(settings) as receiver:
            forwarder = Forwarder(deliveries, receiver.post)
            leave = asyncio.ensure_future(stop.wait())
            work = asyncio.ensure_future(_once(forwarder, deliveries, settings) if once else forwarder.run())
            await asyncio.wait((work, leave), return_when=asyncio.FIRST_COMPLETED)
            if work.done():
                leave.cancel()
                work.result()
            elif once:
                await end(work)
                raise HeldError(_held(deliveries, "it was interrupted"))
            await end(work, leave)
    return 0


async def _once(forwarder: Forwarder, deliveries: Deliveries, settings: Settings) -> None:
    """Raises HeldError."""
    held = await forwarder.hand_on()
    if held is not None:
        answered = f"{settings.webhook.url} answered {held.status or 'nothing'} ({held.said})"
        raise HeldError(_held(deliveries, answered))


def _held(deliveries: Deliveries, why: str) -> str:
    return f"forward: {deliveries.standing().waiting} results wait: {why}; what was sent is not sent again"
