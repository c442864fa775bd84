"""`ringtrue history`: what a damper's services read, where each figure is heading, when it is due."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING, Any

from config.errors import RingtrueError
from ringtrue.history_words import PER, engine_lines, history_lines
from ringtrue.records_options import add_records, open_records

if TYPE_CHECKING:
    from contract.result import NextDue, Result
    from grading.programme.past import History, Spell
    from grading.programme.series import By, Heading, Visit

EXAMPLE = """\
A history follows the damper, whatever engine it was on; of an engine the dampers that it has carried
are listed, with the history of the last one.

The trend is a straight line with all that is not known of it: the figures' own uncertainty, and what
one service does otherwise than the next. `rate` and the figure at the next due come with 95 %
intervals; the limit is `not in sight` where the slope may be none. Where the chance of being over
comes to 5 % before the next inspection is due, that is put forward. Further than one interval ahead
all of it is an extrapolation. Engine hours count, else distance, else the calendar.

exit: 0 done; 1 the configuration is wrong; 2 usage; 3 nothing is on record of it.

example:
  ringtrue history GQ-D-0815
  ringtrue history GQ-E-2207 --records sqlite:///var/records.db --json
"""


class UnknownSerialError(RingtrueError):
    """Neither a damper nor an engine of the records."""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "history",
        help="a damper's figures over the services, and where they are heading",
        description=(
            "Shows every measured figure of a damper over its services, its trend, and when the next "
            "inspection is due. Reads the latest revision of each inspection on record; abandoned ones do "
            "not count, nor does a check that was invalid."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("serial", metavar="SERIAL", help="of a damper, or of an engine")
    add_records(parser)
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def run(args: argparse.Namespace) -> int:
    """Do it."""
    from grading.programme.past import carried_by, history_of

    store = open_records(args)
    try:
        ours = list(_results(store.latest(damper=args.serial)))
        carried = () if ours else carried_by(list(_results(store.latest(engine=args.serial))))
        if carried:
            ours = list(_results(store.latest(damper=carried[-1].serial)))
    finally:
        store.close()
    if not ours:
        raise UnknownSerialError(
            f"history: no inspection on record of a damper or an engine {args.serial}; look at its plate, "
            "capitals and dashes count"
        )
    history = history_of(ours)
    if args.json:
        data = _as_data(history)
        if carried:
            spells = [{"serial": spell.serial, **_spell(spell)} for spell in carried]
            data = {"engine": args.serial, "carried": spells, **data}
        print(json.dumps(data, ensure_ascii=False, allow_nan=False))
        return 0
    print("\n".join([*(engine_lines(args.serial, carried) if carried else ()), *history_lines(history)]))
    return 0


def _results(documents: Iterable[bytes]) -> Iterator[Result]:
    """What the records hold, as far as this version can read it: one that it cannot is an error, as a
    history with a hole in it would mislead."""
    from pydantic import ValidationError

    from contract.document import decode

    for document in documents:
        try:
            yield decode(document)
        except ValidationError as error:
            where = ".".join(str(part) for part in error.errors()[0]["loc"])
            named = json.loads(document).get("inspection")
            raise RingtrueError(
                f"history: the record of inspection {named} cannot be read ({where}): is it a newer "
                "version's?"
            ) from None


def _as_data(history: History) -> dict[str, Any]:
    def due(part: NextDue | None) -> dict[str, Any] | None:
        return None if part is None else part.model_dump(exclude_none=True)

    data = {
        "damper": history.damper,
        "construction": history.construction,
        "engines": [{"serial": spell.serial, **_spell(spell)} for spell in history.engines],
        "verdict": history.verdict,
        "next_due": due(history.next_due),
        "sooner": due(history.sooner),
        "why_sooner": history.why_sooner,
        "checks": {
            name: {
                "limit_mm": visits[-1].limit_mm,
                "visits": [_visit(visit) for visit in visits],
                "trend": _trend(heading, visits[-1].limit_mm),
            }
            for name, (visits, heading) in history.checks.items()
        },
    }
    return {key: value for key, value in data.items() if value is not None}


def _spell(spell: Spell) -> dict[str, Any]:
    return {
        "first": spell.first.isoformat(), "last": spell.last.isoformat(), "inspections": spell.inspections,
    }  # fmt: skip


def _visit(visit: Visit) -> dict[str, Any]:
    data = asdict(visit)
    data["date"] = data.pop("day").isoformat()
    return {key: value for key, value in data.items() if value is not None}


def _trend(heading: Heading, limit_mm: float) -> dict[str, Any]:
    data: dict[str, Any] = {"by": heading.by, "why_by": heading.why_by, "why_none": heading.why_none}
    trend = heading.trend
    if trend is not None:
        per = PER[heading.by]
        rate = trend.rate_mm()
        data |= {
            "rate_per": per,
            "rate_mm": [round(v * per / trend.unit, 6) for v in (rate.median, rate.low, rate.high)],
            "rising": heading.rising,
            "met": _place(heading.by, heading.met),
            "met_early": _place(heading.by, heading.met_early),
        }
        if heading.due is not None:
            there = trend.at_mm(heading.due)
            data |= {
                "due": _place(heading.by, heading.due),
                "at_due_mm": [round(v, 6) for v in (there.median, there.low, there.high)],
                "p_over_at_due": round(trend.p_over(heading.due, limit_mm), 6),
            }
    return {key: value for key, value in data.items() if value is not None}


def _place(by: By, x: float | None) -> Any:
    return None if x is None else date.fromordinal(int(x)).isoformat() if by == "date" else float(int(x))
