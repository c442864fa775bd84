"""`ringtrue display`: the pages of a bay for a browser, until SIGTERM or Ctrl-C."""

from __future__ import annotations

import argparse
import os
from typing import TYPE_CHECKING, Any

from ringtrue.arguments import add_config

if TYPE_CHECKING:
    from config.settings import Settings

EXAMPLE = """\
`ringtrue run` starts the pages too where the configuration has [display] listen.

exit: 0 done; 2 usage; 3 could not run (address taken, certificate unreadable, configuration or file of
people wrong).

examples:
  ringtrue display
  ringtrue display --listen 127.0.0.1:8080
  ringtrue display --add "R. Example" --role work
"""

LISTEN = "127.0.0.1:8080"
"""Where the configuration does not say it."""
EXIT_COULD_NOT_RUN = 3


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "display",
        help="the pages of a bay for a browser: wall, bench, history",
        description=(
            "Serves the pages of a bay: the wall, to be read from afar, which needs no credential; the "
            "bench, which leads through an inspection; and the history. Says on standard error where they "
            "are."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_config(parser)
    parser.add_argument(
        "--listen",
        metavar="HOST:PORT",
        help=f"where, in place of the configuration's, or {LISTEN} (port 0: any free one)",
    )
    parser.add_argument(
        "--add", metavar="NAME", help="add a person to the file of people, asking the password; serve nothing"
    )
    parser.add_argument(
        "--role", choices=("look", "work", "own"), help="with --add: what the person may do (default: work)"
    )


def run(args: argparse.Namespace) -> int:
    """Do it. Raises UsageError, ConfigError, PeopleError or ServerError."""
    import asyncio

    from config.settings import read_settings
    from ringtrue.arguments import UsageError

    settings = read_settings(args.config, os.environ)
    if args.listen is not None or settings.display.listen is None:
        listen = LISTEN if args.listen is None else args.listen
        settings = read_settings(args.config, {**os.environ, "RINGTRUE_DISPLAY__LISTEN": listen})
    if args.role is not None and args.add is None:
        raise UsageError("--role", "no --add", "--add NAME with it")
    if args.add is not None:
        return _add(settings, args.add, args.role or "work")
    return asyncio.run(_serve(settings))


async def _serve(settings: Settings) -> int:
    import asyncio
    import signal

    import structlog

    from display.web.app import application
    from display.web.server import Tls, bound, serve
    from ringtrue.pages import world_of

    display, log = settings.display, structlog.get_logger()
    world = world_of(settings)
    tls = None
    if display.certificate is not None and display.key is not None:
        tls = Tls(display.certificate, display.key).context()
    listening = bound(*display.address)
    stop, failures = asyncio.Event(), []

    def fail(error: BaseException) -> None:
        log.error("the pages end, as they hear the bays no more", error=repr(error))
        failures.append(error)
        stop.set()

    for number in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(number, stop.set)
    host, port = listening.getsockname()[:2]
    shown = f"[{host}]" if ":" in host else host
    root = f"{'http' if tls is None else 'https'}://{shown}:{port}"
    log.info("pages", wall=f"{root}/wall", bench=f"{root}/bench")
    await serve(application(world, fail), listening, tls, stop, world.feed.end)
    return EXIT_COULD_NOT_RUN if failures else 0


def _add(settings: Settings, name: str, role: Any) -> int:
    import getpass
    import sys

    from display.web.people import People, read_people, with_person, write_people
    from ringtrue.arguments import UsageError

    file = settings.display.people
    if file is None:
        expected = 'its name in the configuration, as [display] people = "people.toml"; it need not exist yet'
        raise UsageError("--add", "no [display] people", expected)
    people = read_people(file) if file.exists() else People()
    if sys.stdin.isatty():
        password = getpass.getpass(f"password of {name}: ")
        if getpass.getpass("again: ") != password:
            raise UsageError("--add", "two different passwords", "the same one twice")
    else:
        password = sys.stdin.readline().rstrip("\n")
    write_people(file, with_person(people, name, role, password))
    print(f"{name} may {role}: {file}")
    return 0
