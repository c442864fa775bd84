"""`ringtrue separate`: whose run-out it is, the damper's or its mounting's, from two sweeps."""

from __future__ import annotations

import argparse
import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from config.errors import RingtrueError
from contract.terms import Surface
from ringtrue.arguments import UsageError, length_mm
from ringtrue.reading_options import Options, add_options, options_of, read_turn

if TYPE_CHECKING:
    from grading.evidence import Sweep
    from grading.reversal.reversal import Reversed
    from grading.reversal.separation import Part

EXAMPLE = """\
Sweep the rim (or the face) and write it down; take the damper off, clean both seats, refit it some bolt
holes further on; sweep again with the plunger in the same place. Both files as `grade` reads them.

--step-deg: by how much the damper was moved FORWARD on its hub before the second sweep: seen from the
front of the damper, in the direction in which the crank turns while its angles count up. Six bolts, one
hole on: 60. Moved backward by 60: 300. Best is 180, where the way round does not matter; each part is then
known to 0.7 times what one sweep's own wave is, at 90 degrees to 1.0, at 60 to 1.4, at 30 to 2.7 times.

Count the crank's angles from the engine (flywheel, a pointer at the crank's own flange) in both sweeps:
marks on the damper turn with it, and tell nothing here. Read a face with the crank held to the same end
of its float.

exit: 0 told apart; 1 the readings do not tell, or a sweep is not sound; 2 usage; 3 a file cannot be read.

example:
  ringtrue separate examples/rim-truck-17-first.csv examples/rim-truck-17-second.csv --step-deg 180
"""


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked. radius_mm: of a face, where it is known."""

    files: tuple[Path, Path]
    surface: Surface
    step_deg: float
    seat_u_mm: float
    radius_mm: float | None


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "separate",
        help="whose run-out it is, the damper's or its mounting's",
        description=(
            "Tells the damper's own run-out from that of its mounting (crank flange, pilot), from two sweeps "
            "of one surface between which the damper was re-indexed on its hub by a known step."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("first", type=Path, metavar="FILE", help="readings, the damper as it was")
    parser.add_argument("second", type=Path, metavar="FILE", help="readings, the damper one step further")
    parser.add_argument(
        "--step-deg",
        required=True,
        type=_step_deg,
        metavar="DEG",
        help="how far the damper was moved forward on its hub (below), 30 to 330; 180 is best",
    )
    parser.add_argument(
        "--check", choices=get_args(Surface), default="rim", help="what was read (default: %(default)s)"
    )
    add_options(parser)
    parser.add_argument(
        "--seat-u-mm",
        type=length_mm,
        metavar="MM",
        help="how well the damper comes back to one place on its mounting, standard uncertainty "
        "(default: 0.005, our own choice)",
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def run(args: argparse.Namespace) -> int:
    """Do it; the exit codes are in the help."""
    from grading.reversal.reversal import SEAT_U_MM, reverse

    options = options_of(args)
    asked = Asked(
        files=(args.first, args.second),
        surface=args.check,
        step_deg=args.step_deg,
        seat_u_mm=SEAT_U_MM if args.seat_u_mm is None else args.seat_u_mm,
        radius_mm=(options.radius_mm or options.method.face.radius_mm) if args.check == "face" else None,
    )
    first, second = (_read(file, asked.surface, options) for file in asked.files)
    _refuse_same(first, second, asked.files)
    found = reverse(first, second, options.method, asked.step_deg, seat_u_mm=asked.seat_u_mm)
    if args.json:
        print(json.dumps(_as_data(found, asked), ensure_ascii=False, allow_nan=False))
    else:
        print("\n".join(_as_text(found, asked)).encode(errors="replace").decode())
    return 0 if found.parts is not None and found.parts.whose != "unclear" else 1


def _step_deg(text: str) -> float:
    from grading.reversal.separation import STEP_MIN_DEG, factor_of

    try:
        step = float(text)
    except ValueError:
        step = float("nan")
    if not 0.0 < step < 360.0:
        raise argparse.ArgumentTypeError(f"{text!r} is no step above 0 and below 360 degrees")
    if not STEP_MIN_DEG <= step <= 360.0 - STEP_MIN_DEG:
        raise argparse.ArgumentTypeError(
            f"so small a step tells little: at {step:g} degrees each part is {factor_of(step):.1f} times as "
            f"uncertain as one sweep; move the damper by {STEP_MIN_DEG:g} to {360 - STEP_MIN_DEG:g}, best 180"
        )
    return step


def _read(file: Path, surface: Surface, options: Options) -> Sweep:
    try:
        return read_turn(file, surface, options)
    except OSError as error:
        raise RingtrueError(f"{file}: expected a readable file, found: {error.strerror or error}") from None


def _refuse_same(first: Sweep, second: Sweep, files: tuple[Path, Path]) -> None:
    import numpy as np

    same = np.array_equal(first.value_mm, second.value_mm)
    if same and np.array_equal(first.angle_deg, second.angle_deg):
        raise UsageError("FILE", f"the same readings in {files[0]} and {files[1]}", "two sweeps, taken apart")


def _as_data(found: Reversed, asked: Asked) -> dict[str, Any]:
    data: dict[str, Any] = {
        "check": asked.surface,
        "step_deg": asked.step_deg,
        "whose": "unclear" if found.parts is None else found.parts.whose,
        "reason": found.reason,
        "advice": found.advice,
        "warnings": list(found.warnings),
        "seat_u_mm": asked.seat_u_mm,
        "sweeps": [
            {
                "file": str(file).encode(errors="replace").decode(),
                "outcome": check.outcome,
                "reason": fault or check.reason,
                "limit_mm": check.limit_mm,
            }
            for file, check, fault in zip(asked.files, found.checks, found.faults, strict=True)
        ],
    }
    if found.parts is not None:
        parts = found.parts
        if parts.step.agrees:
            data |= {
                "damper": _part(parts.damper, asked.radius_mm),
                "mounting": _part(parts.mounting, asked.radius_mm),
                "own_tir_mm": round(parts.own_tir_mm, 6),
                "own_tir_u_expanded_mm": round(parts.own_tir_u_expanded_mm, 6),
            }
        data |= {
            "uncertainty_factor": round(parts.factor, 4),
            "step_agrees": parts.step.agrees,
            "step_seen": parts.step.tells,
            "direction_seen": parts.step.tells_direction,
        }
    return data


def _part(part: Part, radius_mm: float | None) -> dict[str, float]:
    data = {
        "amplitude_mm": round(part.amplitude_mm, 6),
        "u_expanded_mm": round(part.u_expanded_mm, 6),
        "high_spot_deg": round(part.high_deg, 4) % 360.0,
    }
    if part.high_u_deg is not None:
        data["high_spot_u_expanded_deg"] = round(part.high_u_deg, 4)
    if radius_mm is not None:
        data["tilt_mrad"] = round(_tilt_mrad(part, radius_mm), 6)
    return data


def _as_text(found: Reversed, asked: Asked) -> list[str]:
    lines = []
    for file, check, fault in zip(asked.files, found.checks, found.faults, strict=True):
        figure = "" if check.true_tir_mm is None else f", true TIR {check.true_tir_mm:.3f} mm"
        lines.append(f"{file}: {asked.surface}: {check.outcome}{figure}")
        if fault is not None:
            lines.append(f"  {fault}")
        if check.outcome != "invalid":
            lines += [f"  note: {warning}" for warning in check.warnings]
    parts = found.parts
    lines.append(f"whose: {'unclear' if parts is None else parts.whose}")
    lines += [f"  {found.reason}", f"  {found.advice}"]
    if parts is not None and parts.step.agrees:
        moved = (parts.damper.high_deg - asked.step_deg) % 360.0
        lines += [
            f"  damper    {_in_words(parts.damper, asked)} in the first sweep ({moved:.0f}° in the second)",
            f"  mounting  {_in_words(parts.mounting, asked)}",
            f"  for a step of {asked.step_deg:g}° forward: the way the crank turns as its angles count up",
            f"  ± holds with 95 %: that step makes it {parts.factor:.2f} times one sweep's; seating again "
            f"counts as {asked.seat_u_mm:g} mm",
        ]
    return lines + [f"  note: {warning}" for warning in found.warnings]


def _in_words(part: Part, asked: Asked) -> str:
    high = f"high at {part.high_deg:.0f}°"
    high += " or anywhere" if part.high_u_deg is None else f" ± {part.high_u_deg:.0f}°"
    tilt = "" if asked.radius_mm is None else f", tilt {_tilt_mrad(part, asked.radius_mm):.3f} mrad"
    return f"{part.amplitude_mm:.3f} mm ± {part.u_expanded_mm:.3f} mm{tilt}, {high}"


def _tilt_mrad(part: Part, radius_mm: float) -> float:
    """Arctangent of a face's wave over the radius at which it was read."""
    return 1000.0 * math.atan(part.amplitude_mm / radius_mm)
