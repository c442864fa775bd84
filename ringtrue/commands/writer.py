"""`ringtrue writer`: what many bays publish into one PostgreSQL database, until SIGTERM or Ctrl-C."""

from __future__ import annotations

import argparse
import os
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

from config.errors import RingtrueError
from ringtrue.arguments import UsageError, missing_file

if TYPE_CHECKING:
    from config.writer import WriterSettings
    from records.fleet.database import Fleet
    from records.fleet.standing import Standing

EXAMPLE = """\
Several of them share the work without knowing of each other, each with a name of its own ([source] client).
docs/fleet/writer.md says how to set it up.

exit: 0 done; 1 a chain is broken (--status), or something is refused (--status, --take-in); 2 usage;
3 could not run.

examples:
  ringtrue writer --config writer.toml --prepare
  ringtrue writer --config writer.toml
  ringtrue writer --config writer.toml --status --json
  ringtrue writer --config writer.toml --accept greywacke/bay-2 0c2f…
  ringtrue writer --config writer.toml --again
  ringtrue writer --config writer.toml --take-in var/records.db
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "writer",
        help="the record writer of a fleet: what many bays publish into PostgreSQL",
        description=(
            "Files results, records of chains and checkpoints of all bays of a source, each once, verifies "
            "the chains as they come, and has bays send again what is missing."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "--config",
        type=Path,
        default=Path("writer.toml"),
        metavar="FILE",
        help="the writer's configuration (default: %(default)s)",
    )
    what = parser.add_mutually_exclusive_group()
    what.add_argument(
        "--prepare", action="store_true", help="make the tables, or bring them up, as their owner; then end"
    )
    what.add_argument("--status", action="store_true", help="say how the records stand; file nothing")
    what.add_argument(
        "--accept",
        nargs=2,
        metavar=("SITE/BAY", "KEY"),
        help="from now on this key signs for that bay too; what it signed before is taken up",
    )
    what.add_argument(
        "--again",
        action="store_true",
        help="take up what was refused as newer than this writer, or by a key that is known now",
    )
    what.add_argument(
        "--take-in",
        metavar="RECORDS",
        help="file the results and the chain of a bay's records: a file, or a database's URL",
    )
    parser.add_argument("--json", action="store_true", help="with --status: as JSON")


def run(args: argparse.Namespace) -> int:
    """Do it. Raises UsageError, ConfigError or RecordsError."""
    from contextlib import closing

    from config.writer import read_writer
    from ringtrue.recording import fleet_of

    if args.json and not args.status:
        raise UsageError("--json", "no --status", "--status with it")
    settings = read_writer(args.config, os.environ)
    with closing(fleet_of(settings.records)) as fleet:
        if args.prepare:
            before, now = fleet.prepare()
            was = "made" if before is None else "as it was" if before == now else f"it was {before}"
            print(f"{fleet.place}: version {now}, {was}")
            return 0
        if args.status:
            from records.fleet.standing import standing

            return _say(fleet.place, standing(fleet), as_json=args.json)
        if args.accept:
            return _accept(fleet, settings, *args.accept)
        if args.again:
            return _again(fleet, settings)
        if args.take_in:
            return _take_in(fleet, settings, args.take_in)
        return _serve(fleet, settings)


def _serve(fleet: Fleet, settings: WriterSettings) -> int:
    import asyncio
    import signal

    import structlog

    from records.errors import RecordsUnavailableError, RecordsVersionError
    from records.fleet.writing import to_itself
    from ringtrue.recording import writer_of

    try:
        with fleet.transaction():
            pass
    except RecordsVersionError:
        raise
    except RecordsUnavailableError as error:
        # It is waited for; a password that is wrong is better known before there is something to file.
        structlog.get_logger().error("nothing is filed until the database takes it", reason=str(error))

    async def serve() -> None:
        writer = writer_of(settings, fleet)
        for number in (signal.SIGTERM, signal.SIGINT):
            asyncio.get_running_loop().add_signal_handler(number, writer.leave)
        await writer.run()

    with to_itself():
        asyncio.run(serve())
    return 0


def _say(place: str, found: Standing, *, as_json: bool) -> int:
    import json
    from dataclasses import asdict

    code = 1 if found.breaks or found.refused or found.let_go else 0
    if as_json:
        print(json.dumps({"records": place, **asdict(found)}, ensure_ascii=False))
        return code
    latest = f"the last result came {found.latest}" if found.latest else "no result has come yet"
    print(
        f"{place}: {found.results} results of {found.inspections} inspections of {found.bays} bays, "
        f"{found.records} records of their chains; {latest}"
    )
    if found.unproven:
        print(
            f"unproven: {found.unproven} results without their record, the first since {found.unproven_since}"
        )
    if found.missing:
        print(f"missing: {found.missing} records without their result")
    for one in found.behind:
        print(
            f"missing: {one['site']}/{one['bay']}, chain {one['chain']}: its checkpoint tells {one['told']} "
            f"records, {one['walked']} follow each other here"
        )
    for one in found.latest_refused:
        number = found.refused[one["reason"]]
        print(
            f"refused: {number} as {one['reason']}, the latest {one['stored']}, {one['topic']}: {one['why']}"
        )
    for one in found.let_go:
        print(
            f"let go: {one['number']} as {one['reason']}, {one['bytes']} bytes, the latest {one['latest']}: "
            "more than [refused] keeps"
        )
    for one in found.breaks:
        print(f"broken: {_place(one)}")
    months = f"{found.months[0]} to {found.months[-1]}" if found.months else "none yet"
    print(f"months: {months}")
    return code


def _place(one: dict[str, Any]) -> str:
    from chain.breaks import Break
    from records.fleet.verifying import KEPT_IN

    where = one["site"], one["bay"], one["chain"], one["place"]
    said = Break(one["what"], KEPT_IN, *where, one["why"], one["inspection"], one["revision"])
    return f"{said.in_words()} (found {one['found']})"


def _accept(fleet: Fleet, settings: WriterSettings, name: str, key: str) -> int:
    import re

    from records.fleet.held import keep_keys, take_in_turn

    site, slash, bay = name.partition("/")
    if not (site and slash and bay) or "/" in bay:
        raise UsageError("--accept", name, "SITE/BAY")
    if not re.fullmatch("[0-9a-f]{64}", key):
        raise UsageError(
            "--accept", key, "a public key of 64 hexadecimal digits, as the topic checkpoint tells it"
        )
    with fleet.transaction() as connection:
        take_in_turn(connection, [(site, bay)])
        is_new = keep_keys(connection, {(site, bay): key}, "accepted")
    print(f"{name}: {key} {'signs from now on' if is_new else 'signed already'}")
    return _again(fleet, settings)


def _again(fleet: Fleet, settings: WriterSettings) -> int:
    from records.fleet.again import try_again
    from records.fleet.bays import Bays
    from records.fleet.filing import Filing

    taken, held = try_again(fleet, Filing(fleet, Bays(settings.bays)))
    print(f"{taken} messages taken up, {held} refused still")
    return 0


def _take_in(fleet: Fleet, settings: WriterSettings, where: str) -> int:
    from contextlib import closing

    from records.database import Database
    from records.fleet.bays import Bays
    from records.fleet.filing import Filing
    from records.fleet.taking_in import take_in

    url = where if "://" in where else f"sqlite:///{where}"
    if (file := missing_file(url)) is not None:
        raise RingtrueError(f"--take-in: {file} is not there; name a bay's records.db")
    with closing(Database(url, create=False)) as records:
        filed = take_in(records, Filing(fleet, Bays(settings.bays)))
    print(f"{filed.results} results and {filed.records} records of chains were not here yet, and are now")
    for refused in filed.declined:
        print(f"refused: {refused.topic}: {refused.reason}: {refused.why}")
    print(
        textwrap.fill(
            "Left where it is: the register (ringtrue register export, and import --records), photos (files "
            "beside the records), and what was handed on by HTTP.",
            80,
        )
    )
    return 1 if filed.declined else 0
