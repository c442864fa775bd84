"""`ringtrue study`: how well a gauge repeats in the hands of several people."""

from __future__ import annotations

import argparse
import json
import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from config.errors import Problem
from ringtrue.arguments import positive_mm, proof

if TYPE_CHECKING:
    from grading.evidence import F64
    from grading.gauge.study import Spread, Study, Telling

EXAMPLE = """\
The file: CSV with a header line, columns part,person,value_mm. Everyone measures every part the
same number of times (at least 2 parts, 2 repeats; better 8 parts, 3 people, 3 repeats), in any order.

exit: 0 done; 1 not told as near as --need-mm; 2 usage; 3 the file cannot be read.

example:
  ringtrue study examples/study-indicator-1.csv --limit-mm 0.28
"""
COLUMNS = ("part", "person", "value_mm")


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "study",
        help="how well a gauge and the people who use it repeat, and what they can tell",
        description="Repeatability and reproducibility of a gauge, and how near to a limit it can tell.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="the readings")
    parser.add_argument(
        "--limit-mm", type=positive_mm, metavar="MM", help="a limit to put the answer into figures"
    )
    parser.add_argument(
        "--probability",
        type=proof,
        default=0.95,
        metavar="P",
        help="proof asked for near the limit (default: %(default)s)",
    )
    parser.add_argument(
        "--confidence",
        type=proof,
        default=0.95,
        metavar="P",
        help="of the intervals (default: %(default)s)",
    )
    parser.add_argument(
        "--need-mm",
        type=positive_mm,
        metavar="MM",
        help="exit 1 unless a part this far from the limit is told, by the cautious figure",
    )
    parser.add_argument("--json", action="store_true", help="print the figures as JSON")


def run(args: argparse.Namespace) -> int:
    """Do it. 0: done; 1: the distance needed cannot be told; 3: the file cannot be read as a study."""
    from grading.gauge.study import study, telling
    from ringtrue.tables import ReadingsError

    values, step_mm = read_study(args.file)
    try:
        found = study(values, args.confidence)
    except ValueError as error:
        raise ReadingsError(Problem(str(args.file), None, "readings", str(error), "a usable study")) from None
    tells = telling(found, args.probability, step_mm)
    if args.json:
        print(json.dumps(as_data(found, tells, step_mm, args.limit_mm)))
    else:
        print("\n".join(as_text(args.file, found, tells, step_mm, args.limit_mm)))
    if args.need_mm is None or tells.told_high_mm <= args.need_mm:
        return 0
    answer = f"{tells.told_high_mm:.4f} mm is more than the {args.need_mm:g} mm needed"
    print(f"ringtrue study: {answer}", file=sys.stderr)
    return 1


def read_study(path: Path) -> tuple[F64, float]:
    """Readings of shape (parts, persons, repeats), mm, and the step that all of them are multiples of.

    Raises ReadingsError where a value is no number, or not everyone measured every part equally often.
    """
    import numpy as np

    from contract.words import count_of
    from ringtrue.tables import ReadingsError, read_rows

    problems: list[Problem] = []
    cells: dict[tuple[str, str], list[int]] = {}
    for row in read_rows(path, COLUMNS, others=True):
        value = 0
        try:
            value = row.length_nm("value_mm")
        except ReadingsError as error:
            problems += error.problems
        nameless = [column for column in ("part", "person") if not row.cells[column]]
        problems += [row.problem(column, "nothing", "a name") for column in nameless]
        cells.setdefault((row.cells["part"], row.cells["person"]), []).append(value)
    parts = list(dict.fromkeys(part for part, _ in cells))
    people = list(dict.fromkeys(person for _, person in cells))
    most = max((len(values) for values in cells.values()), default=0)
    problems += [
        Problem(
            str(path), None, f"{part}, {person}", count_of(count, "reading"), f"{most}, as for the others"
        )
        for part in parts
        for person in people
        if (count := len(cells.get((part, person), []))) != most
    ]
    if problems:
        raise ReadingsError(*problems)
    if len(parts) < 2 or most < 2:
        found = f"{count_of(len(parts), 'part')}, {count_of(most, 'reading')} each"
        wanted = "2 parts and 2 readings each at least"
        raise ReadingsError(Problem(str(path), None, "readings", found, wanted))
    whole = np.array([[cells[part, person] for person in people] for part in parts])
    step = math.gcd(*(int(value) for value in whole.flat))
    return whole / 1e6, step / 1e6


def as_text(path: Path, found: Study, tells: Telling, step_mm: float, limit_mm: float | None) -> list[str]:
    """What the study says, line by line, for a person."""
    percent = f"{100 * tells.probability:g}"
    count = found.parts_count * found.persons_count * found.repeats
    who = "1 person" if found.persons_count == 1 else f"{found.persons_count} people"
    lines = [
        f"{path.name}: {found.parts_count} parts, {who}, {found.repeats} times each, {count} readings, "
        f"mean {found.grand_mean_mm:.4f} mm",
        "",
        f"Standard deviations and, {100 * found.confidence:g} times in 100, where the true ones lie:",
    ]
    rows: list[tuple[str, Spread | None]] = [
        ("repeatability: same person, same part", found.repeatability),
        ("reproducibility: from person to person", found.reproducibility),
        ("one figure, whoever measures", found.measuring),
        ("the parts themselves", found.parts),
    ]
    for name, spread in rows:
        if spread is None:
            lines.append(f"  {name:40} not known: one person measured")
        else:
            interval = f"{spread.low_mm:.4f} to {spread.high_mm:.4f}"
            lines.append(f"  {name:40} {spread.sd_mm:.4f} mm   {interval}   ({spread.method})")
    lines += [f"  The estimate of {name} came out below zero and counts as zero." for name in found.negative]
    if found.measuring.sd_mm < step_mm / math.sqrt(12.0):
        lines.append(f"  All readings are multiples of {step_mm:g} mm, which hides smaller scatter.")
    lines += [
        "",
        "What it means near a limit:",
        f"  To {percent} % proof, a figure nearer to its limit than {tells.unclear_mm:.4f} mm stays unclear.",
        f"  One measurement tells a part truly {tells.told_high_mm:.4f} mm from the limit "
        f"{percent} times in 100:",
        "  the cautious figure, as so short a study may flatter. Were the spread exactly what it found,",
        f"  {tells.told_mm:.4f} mm would do, which holds in little more than half of such studies.",
    ]
    if limit_mm is not None:
        lines.append(
            f"  Limit {limit_mm:g} mm: within up to {limit_mm - tells.unclear_mm:.4f} mm, "
            f"over from {limit_mm + tells.unclear_mm:.4f} mm, unclear between them."
        )
    lines.append("  What the gauge reads wrong for everyone alike is not in it: calibration shows that.")
    return lines


def as_data(found: Study, tells: Telling, step_mm: float, limit_mm: float | None) -> dict[str, Any]:
    """The same as plain data; lengths in mm."""

    def spread(one: Spread | None) -> dict[str, Any] | None:
        if one is None:
            return None
        return {"sd_mm": one.sd_mm, "low_mm": one.low_mm, "high_mm": one.high_mm, "interval": one.method}

    return {
        "parts": found.parts_count,
        "people": found.persons_count,
        "repeats": found.repeats,
        "confidence": found.confidence,
        "mean_mm": found.grand_mean_mm,
        "step_mm": step_mm,
        "repeatability": spread(found.repeatability),
        "reproducibility": spread(found.reproducibility),
        "one_figure": {
            **(spread(found.measuring) or {}),
            "dof": found.dof if math.isfinite(found.dof) else None,
        },
        "between_parts": spread(found.parts),
        "below_zero": list(found.negative),
        "mean_squares": [
            {"source": row.name, "dof": row.dof, "mean_square_mm2": row.mean_square} for row in found.table
        ],
        "telling": {
            "probability": tells.probability,
            "unclear_mm": tells.unclear_mm,
            "told_mm": tells.told_mm,
            "told_high_mm": tells.told_high_mm,
        },
        "limit_mm": limit_mm,
    }
