"""`ringtrue register`: engines, dampers and gauges in and out of the records, and what happened to them."""

from __future__ import annotations

import argparse
import json
import sys
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any

from config.errors import Problem, RingtrueError
from ringtrue.arguments import UsageError
from ringtrue.programme_places import add_places, method_of, read_register, records_url

TABLE_NAMES = ("engines", "dampers", "gauges", "fittings", "readings", "events")
"""As the register has them; loading it takes longer than to say so."""

EXAMPLE = """\
The files: CSV, UTF-8, a header line; as spreadsheets write it, with semicolons and decimal commas too.

  engines   engine [fleet] [rating_kw]
  dampers   damper family=viscous|rubber [construction=rolled|welded]
  fittings  engine date damper
  readings  engine date [distance_km] [hours_h]
  gauges    gauge what resolution_mm mpe_mm calibration_due [certificate]
  events    engine date trigger [note]

A column in brackets may be left out, and then stays as it is. A file with a wrong row is not imported
at all, and every wrong row is told. The same file again changes nothing; a row that is there already,
by engine, damper, gauge or engine and date, is changed.

exit: 0 done; 2 usage; 3 nothing was imported, or configuration, method or
records cannot be used.

examples:
  ringtrue register import engines examples/register/engines.csv
  ringtrue register export readings > readings.csv
  ringtrue register list
  ringtrue register event GQ-E-2207 impact --note "reversed into the tip wall"
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "register",
        help="engines, dampers, gauges: in and out of the records",
        description="Keeps engines, dampers and gauges, fittings, counter readings and events.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    tables = ", ".join(TABLE_NAMES)

    taken = _action(actions, "import", "a CSV file into a table, all of it or nothing", "engines engines.csv")
    taken.add_argument("table", choices=TABLE_NAMES, metavar="TABLE", help=tables)
    taken.add_argument("file", type=Path, metavar="FILE", help="CSV with a header line")
    taken.add_argument(
        "--whole", action="store_true", help="the file is the whole table: take out what it does not hold"
    )
    add_places(taken)
    given = _action(actions, "export", "a table as CSV to standard output", "readings > readings.csv")
    given.add_argument("table", choices=TABLE_NAMES, metavar="TABLE", help=tables)
    add_places(given, with_method=False)
    listed = _action(actions, "list", "a table for people, and what does not go together", "gauges --json")
    listed.add_argument(
        "table", nargs="?", default="engines", choices=TABLE_NAMES, metavar="TABLE",
        help=f"{tables} (default: engines)",
    )  # fmt: skip
    listed.add_argument("--json", action="store_true", help="print an array of objects")
    add_places(listed)
    happened = _action(
        actions, "event", "something happened to an engine that makes it due at once",
        'GQ-E-2207 impact --date 2026-11-02 --note "reversed into the tip wall"',
    )  # fmt: skip
    happened.add_argument("engine", metavar="ENGINE", help="its serial")
    happened.add_argument(
        "trigger",
        metavar="TRIGGER",
        help="what happened, by the method's name for it; any other word is answered with these names",
    )
    happened.add_argument(
        "--date",
        metavar="DATE",
        help="2026-11-02, or 2026-11-02T06:30:00Z (default: now); of a day alone, its end",
    )
    happened.add_argument("--note", default="", help="what more there is to say")
    add_places(happened)


def _action(
    actions: argparse._SubParsersAction[Any], name: str, what: str, example: str
) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = actions.add_parser(
        name,
        help=what,
        description=f"{what[0].upper()}{what[1:]}.",
        epilog="exit: 0 done; 2 usage; 3 configuration or records cannot be used.\n\n"
        f"example:\n  ringtrue register {name} {example}\n",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    return parser


def run(args: argparse.Namespace) -> int:
    """Do it."""
    {"import": _import, "export": _export, "list": _list, "event": _event}[args.action](args)
    return 0


def _now() -> datetime:
    """With the zone of here: a day begins when the workshop's does."""
    return datetime.now().astimezone()


def _import(args: argparse.Namespace) -> None:
    from records.register.merging import merged
    from records.register.register import Register
    from ringtrue.register_files import NotImportedError, problems_of, read_table

    rows, problems = read_table(args.file, args.table, _now())
    if args.whole and not rows and not problems:
        raise NotImportedError(args.file, [Problem(str(args.file), None, "rows", "none", "the whole table")])
    triggers = _triggers(args) if args.table == "events" else ()
    with closing(Register(records_url(args, is_there=False))) as register:
        if problems:
            change = merged(register.load(), args.table, rows, triggers, whole=False)
        else:
            change = register.put(args.table, rows, triggers, whole=args.whole)
    problems += problems_of(args.file, change)
    if problems:
        raise NotImportedError(args.file, problems)
    counts = {"new": len(change.new), "changed": len(change.changed), "removed": len(change.removed)}
    said = [f"{count} {what}" for what, count in counts.items() if count]
    print(f"{args.table}: {', '.join([*said, f'{change.same} as they were'])}")


def _triggers(args: argparse.Namespace) -> tuple[str, ...]:
    return tuple(trigger.id for trigger in method_of(args).programme.trigger)


def _export(args: argparse.Namespace) -> None:
    from records.register.register import Register
    from ringtrue.register_files import as_csv

    with closing(Register(records_url(args), create=False)) as register:
        sys.stdout.writelines(as_csv(args.table, register.load()[args.table].values()))


def _list(args: argparse.Namespace) -> None:
    from ringtrue.register_words import as_data, as_text

    method = method_of(args)
    book, inspections = read_register(records_url(args))
    if args.json:
        print(json.dumps(as_data(args.table, book, inspections, method), ensure_ascii=False))
    else:
        print("\n".join(as_text(args.table, book, inspections, method, _now().date())))


def _event(args: argparse.Namespace) -> None:
    from records.register.merging import Incoming
    from records.register.register import Register
    from ringtrue.register_files import as_moment, typed_row

    triggers = _triggers(args)
    if args.trigger not in triggers:
        known = ", ".join(triggers) or "it has none: add them under [programme] trigger"
        raise UsageError("TRIGGER", args.trigger, f"one of the method's triggers ({known})")
    now = _now()
    cells = {"engine": args.engine, "date": args.date or as_moment(now), "trigger": args.trigger}
    row = typed_row("events", {**cells, "note": args.note}, now)
    with closing(Register(records_url(args))) as register:
        change = register.put("events", [Incoming(None, row)], triggers)
    if change.wrong:
        wrong = change.wrong[0]
        raise RingtrueError(f"{wrong.column}: expected {wrong.expected}, found {wrong.found}")
    until = "due until an inspection that was opened later ends in keep"
    print(f"recorded: {args.trigger} on {row['date']}: {args.engine} is {until}")
