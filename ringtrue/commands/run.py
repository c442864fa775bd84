"""`ringtrue run`: the bay's daemon, until SIGTERM or Ctrl-C."""

from __future__ import annotations

import argparse
import os
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from config.errors import ConfigError
from ringtrue.arguments import add_config

if TYPE_CHECKING:
    from config.bay import BayFiles
    from ringtrue.child import Child

EXAMPLE = """\
exit: 0 stopped; 1 the configuration is wrong, and starting it again would not help; 2 usage; 3 it could
not begin: broker, journal or disk.

examples:
  ringtrue run --config bays/bay-2.toml
  RINGTRUE_MQTT__PORT=18830 ringtrue run
  ringtrue run --from-capture indicator-1=shelf-gauge.cap
  ringtrue run --unit | sudo tee /etc/systemd/system/ringtrue.service
"""

# Seconds for which one thread may hold the interpreter while another wants it: a reading's stamp
# waits no longer than about this for a busy loop (Python's own 5 ms would be seen in fast sweeps).
SWITCH_INTERVAL_S = 0.0005

# First and longest pause before what runs beside is started again: what stops it may take a person.
AGAIN_FIRST_S, AGAIN_MAX_S = 1.0, 60.0
# By how much what runs beside yields to the daemon: as much as the unit puts it before others.
BESIDE_NICE = 10


class NotAgainError(ConfigError):
    """Whoever keeps the daemon running need not try again: `ringtrue.service` knows this exit code."""

    exit_code = 1


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "run",
        help="the bay daemon: gauges in, figures and verdicts out on MQTT",
        description=(
            "Reads the bay's gauges, takes commands, grades, and publishes on MQTT until SIGTERM or Ctrl-C. "
            "Says on standard error where the broker listens, where its credential lies, and which gauges "
            "are there. A gauge that is missing is waited for. With [display] listen the pages for a browser "
            "are served too, with [webhook] url results are handed on. SIGHUP is ignored. A service manager "
            "that speaks sd_notify hears when it is ready, that it lives, and when it stops."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_config(parser)
    parser.add_argument(
        "--from-capture",
        action="append",
        default=[],
        metavar="GAUGE=FILE",
        help="play a capture in place of this gauge's port; the bay is then called …-replay and keeps "
        "journal and records of its own, in replay/ beside the journal, and serves no pages",
    )
    parser.add_argument(
        "--unit", action="store_true", help="print a systemd unit for this installation, and do nothing else"
    )


def run(args: argparse.Namespace) -> int:
    """Do it. Raises ConfigError, BrokerError or JournalError where the daemon cannot begin."""
    import asyncio
    import sys

    from drivers.turns import TurnsLoop
    from ringtrue.child import Child
    from ringtrue.plugged import read_plugged

    if args.unit:
        print(unit(Path(sys.prefix)), end="")
        return 0
    try:
        bay = read_plugged(args.config, os.environ)
        if args.from_capture:
            from ringtrue.replay import replayed

            bay = replayed(bay, args.from_capture)
        sys.setswitchinterval(SWITCH_INTERVAL_S)
        wanted = {
            "display": bay.settings.display.listen,
            "forward": bay.settings.webhook.url,
            "sparkplug": bay.settings.sparkplug.group,
        }
        beside = {}
        if not args.from_capture:
            logged = ("--log-level", args.log_level or "info", "--log-format", args.log_format)
            beside = {
                name: Child(*logged, name, "--config", str(args.config), log=None, nice=BESIDE_NICE)
                for name, key in wanted.items()
                if key is not None
            }
        with asyncio.Runner(loop_factory=TurnsLoop) as runner:
            runner.run(_run(bay, beside))
    except ConfigError as error:
        raise NotAgainError(error.problems) from None
    return 0


def unit(environment: Path) -> str:
    """The unit that ships, for the program of this Python environment."""
    shipped = files("config").joinpath("ringtrue.service").read_text()
    return shipped.replace("/opt/ringtrue/", f"{environment}/")


async def _run(bay: BayFiles, children: dict[str, Child]) -> None:
    """children: commands that run beside the daemon, by their names."""
    import asyncio
    import signal

    import structlog

    from acquire.daemon import Daemon
    from link.tasks import end
    from ringtrue import __version__
    from ringtrue.keeping import RecordsKeeper
    from ringtrue.notify import Notifier
    from ringtrue.world import real_world

    notifier = Notifier(os.environ)
    records = RecordsKeeper(bay.settings.records.url)
    log = structlog.get_logger()

    stop = asyncio.Event()
    loop = asyncio.get_running_loop()

    def leave() -> None:
        notifier.stopping()
        stop.set()

    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, leave)
    # The terminal it was started from has gone, or somebody wants logs opened anew or settings read again:
    # it logs to standard error only and reads its settings once, and an inspection must not end for that.
    ignored = "hangup ignored: SIGTERM ends the daemon; a new start reads the settings again"
    loop.add_signal_handler(signal.SIGHUP, log.warning, ignored)
    beside = [asyncio.ensure_future(notifier.keep_alive())]
    beside += [asyncio.ensure_future(_kept_up(name, child)) for name, child in children.items()]
    try:
        daemon = Daemon(bay, real_world(), records, software=f"ringtrue {__version__}")
        await daemon.run(stop, notifier.ready)
    finally:
        records.close()
        await end(*beside)
        for child in children.values():
            await child.stop()


async def _kept_up(name: str, child: Child) -> None:
    """Keep it up, for ever, in a process of its own: what it does takes nothing from the daemon."""
    import asyncio

    import structlog

    from contract.pauses import Pauses

    log, pauses = structlog.get_logger(), Pauses(AGAIN_FIRST_S, AGAIN_MAX_S)
    loop = asyncio.get_running_loop()
    while True:
        began_s = loop.time()
        try:
            await child.start()
        except OSError as error:
            log.warning(f"{name} cannot be started; tried again", reason=error.strerror)
        else:
            await child.wait_ended()
            log.warning(f"{name} ended; it is started again")
        if loop.time() - began_s > AGAIN_MAX_S:
            pauses.anew()
        await pauses.wait()
