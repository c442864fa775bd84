"""`ringtrue grade`: grades readings from files, for someone with a plain dial and a pencil."""

from __future__ import annotations

import argparse
import importlib
import json
import os
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, get_args

from config.errors import RingtrueError
from ringtrue.arguments import add_unit
from ringtrue.reading_options import MeasuredName, Options, add_options, options_of, read_attempt

if TYPE_CHECKING:
    from contract.lengths import LengthUnit
    from contract.result import Check

FILES_PER_PROCESS = 8
"""Fewer files than twice this are sooner done in one process than another one is started."""
PROCESSES_MAX = 8

EXAMPLE = """\
The files: CSV, UTF-8, a header line, `#` comments; as spreadsheets write it, with semicolons and
decimal commas too. rim and face: angle_deg,value_mm and optionally time_s, and low_mm,high_mm: the
lowest and highest that the needle showed since the row before; angles as barred, one full turn and at
least 8 rows; two turns say what the second differs by. face: indicator (first or second) where two
stood half a turn apart, with 40 rows of each or as many as the method's [face.end_float] asks for.
thickness: station_deg,radius,value_mm with radius outer or inner; rows at the same place are
replicates. A comment `# check: rim` keeps a file from being graded as anything else.

exit: 0 all within; 1 one is over, unclear or invalid; 2 usage; 3 a file cannot be read.

example:
  ringtrue grade examples/rim-truck-14.csv --check rim
  ringtrue grade examples/thickness-damper-0815.csv --check thickness --resolution-mm 0.001 --mpe-mm 0.004
  ringtrue grade sweeps/*.csv --check face --radius-mm 140 --json
"""


@dataclass(frozen=True, slots=True)
class Answer:
    """What is to be said of one file, and the exit code it asks for by itself."""

    text: str
    code: int


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "grade",
        help="grade readings from files, without a daemon",
        description="Grade readings from files: rim or face run-out, or the thickness of the casing.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE", help="readings, one check a file")
    parser.add_argument("--check", required=True, choices=get_args(MeasuredName), help="what was read")
    add_options(parser)
    add_unit(parser, "of lengths as printed (default: mm); files and --json stay in mm")
    parser.add_argument("--json", action="store_true", help="print one line of JSON for each file")


def run(args: argparse.Namespace) -> int:
    """Do it; the exit codes are in the help."""
    options = options_of(args)
    codes = set()
    for answer in _answers(args.files, options, unit=args.unit, as_json=args.json):
        # A file's name may hold bytes that are no text; they are shown as question marks.
        print(
            answer.text.encode(errors="replace").decode(),
            file=sys.stderr if answer.code == 3 else sys.stdout,
            flush=True,
        )
        codes.add(answer.code)
    return max(codes)


def _answers(files: Sequence[Path], options: Options, *, unit: str, as_json: bool) -> Iterator[Answer]:
    """One answer for each file, in order; many files are shared out among processes."""
    one = partial(grade_file, options=options, unit=unit, as_json=as_json)
    workers = min(len(os.sched_getaffinity(0)), len(files) // FILES_PER_PROCESS, PROCESSES_MAX)
    if workers < 2:
        yield from map(one, files)
        return
    try:
        sharing = ProcessPoolExecutor(workers, get_context(_how_to_start()))
    except (OSError, ImportError):  # no shared memory to be had: slower, and the same answers
        yield from map(one, files)
        return
    with sharing as pool:
        share = max(1, min(16, len(files) // (16 * workers)))
        yield from pool.map(one, files, chunksize=share)


def _how_to_start() -> Literal["fork", "spawn"]:
    """A copy of this process has all that grading takes already, which a fresh one needs 0.6 s of a core to
    load; but it would hold the locks of other threads half-way, where there are any."""
    importlib.import_module("grading.assess")
    return "fork" if len(list(Path("/proc/self/task").iterdir())) == 1 else "spawn"


def grade_file(path: Path, options: Options, *, unit: str, as_json: bool) -> Answer:
    """Read one file, grade it, say so."""
    from contract.lengths import UNITS
    from grading.assess import judge

    try:
        attempt = read_attempt(path, options)
        check = judge(options.check, (attempt,), options.method)
    except RingtrueError as error:
        return Answer(f"ringtrue: {error}", 3)
    except OSError as error:
        return Answer(f"ringtrue: {path}: expected a readable file, found: {error.strerror or error}", 3)
    text = _as_json(path, check) if as_json else "\n".join(_as_text(path, options, check, UNITS[unit]))
    return Answer(text, 0 if check.outcome == "within" else 1)


def _as_json(path: Path, check: Check) -> str:
    from contract.document import as_data

    return json.dumps({"file": str(path), **as_data(check)}, ensure_ascii=False, allow_nan=False)


def _as_text(path: Path, options: Options, check: Check, unit: LengthUnit) -> Iterator[str]:
    from contract.result import SurfaceCheck, ThicknessCheck
    from contract.told import check_in
    from contract.words import count_of

    check = check_in(check, unit)
    yield f"{path}: {options.check}: {check.outcome}"
    yield f"  {check.reason}"
    if isinstance(check, SurfaceCheck) and check.tir_mm is not None:
        closure = "" if check.closure_mm is None else f", closure {unit.length(check.closure_mm, sign='+')}"
        shows = f"a dial shows {unit.length(check.tir_mm)}"
        if check.outcome == "invalid":
            shows = f"not judged: {unit.length(check.tir_mm)} from lowest to highest reading"
        yield (
            f"  {shows}: {count_of(check.readings or 0, 'reading')} over {check.covered_deg:.1f}°, "
            f"largest gap {check.largest_gap_deg:.1f}°{closure}"
        )
        if options.check == "face":
            yield f"  {unit.sentence(_read_at(options))}"
        if check.tilt_mrad is not None:
            yield f"  tilt {check.tilt_mrad:.3f} mrad, high at {check.high_spot_deg:.1f}°"
        elif check.eccentricity_mm is not None:
            yield f"  eccentricity {unit.length(check.eccentricity_mm)}, high at {check.high_spot_deg:.1f}°"
        if check.turn_to_turn_mm is not None:
            yield f"  from turn to turn {unit.length(check.turn_to_turn_mm)}"
        if check.opposite is not None:
            counts = "" if check.opposite.counts else "; it does not count"
            yield f"  the second indicator shows {unit.length(check.opposite.tir_mm or 0.0)}{counts}"
    if isinstance(check, ThicknessCheck) and check.spread_mm is not None:
        wedge = "" if check.wedge_mm is None else f", wedge {unit.length(check.wedge_mm)}"
        taper = "" if check.taper_mm is None else f", largest taper {unit.length(check.taper_mm, sign='+')}"
        readings = count_of(check.readings or 0, "reading")
        spread = unit.sentence(f"{check.spread_mm:g} mm")
        yield f"  spread as read {spread}: {readings}{wedge}{taper}"
    if isinstance(check, SurfaceCheck) and check.outcome != "unclear":  # there the reason says them
        yield from (f"  doubt: {doubt}" for doubt in check.doubts or ())
    for warning in check.warnings:
        yield f"  note: {warning}"
    if isinstance(check, SurfaceCheck) and check.excluded:
        yield f"  not in the uncertainty: {'; '.join(check.excluded)}"


def _read_at(options: Options) -> str:
    """On what radius a face counted, and who says so."""
    if options.radius_mm is not None:
        return f"face read at {options.radius_mm:g} mm from the axis, as given"
    if options.method.face.radius_mm is not None:
        return f"face read at {options.method.face.radius_mm:g} mm from the axis (the method's radius)"
    return "face read at a radius that neither --radius-mm nor the method gives: no tilt"
