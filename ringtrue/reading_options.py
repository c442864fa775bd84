"""What commands that take files of readings ask of gauge, angle and method, and how they read a file."""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal, get_args

from contract.terms import Construction, Family
from ringtrue.arguments import UsageError, length_mm, named_method, positive_mm

if TYPE_CHECKING:
    from config.method import Method
    from contract.gauge import GaugeFacts
    from contract.terms import Surface
    from grading.evidence import Attempt, Sweep

MeasuredName = Literal["rim", "face", "thickness"]

BY_EYE_S = 1.0
"""Nobody bars on, reads a dial and writes it down in less, again and again: our own choice, no source."""


@dataclass(frozen=True, slots=True)
class Options:
    """What a file does not say of itself; None: as the method has it."""

    check: MeasuredName
    method: Method
    resolution_mm: float | None
    mpe_mm: float | None
    angle_u_deg: float | None
    radius_mm: float | None


def add_options(parser: argparse.ArgumentParser) -> None:
    """`--method`, `--resolution-mm`, `--mpe-mm`, `--angle-u-deg`, `--radius-mm` and what the damper is."""
    parser.add_argument(
        "--method", default="example", metavar="FILE", help="the method, or the name of one that ships"
    )
    parser.add_argument(
        "--resolution-mm",
        type=positive_mm,
        metavar="MM",
        help="step of the gauge (default: the method's [typed] one, or the file's own where that is finer: a "
        "small run-out may then be one in inches, and is asked about)",
    )
    parser.add_argument(
        "--mpe-mm",
        type=length_mm,
        metavar="MM",
        help="any two readings of the gauge differ wrongly by this at most (default: from the method)",
    )
    parser.add_argument(
        "--angle-u-deg",
        type=_angle_deg,
        metavar="DEG",
        help="standard uncertainty of an angle (default: from the method)",
    )
    parser.add_argument(
        "--radius-mm",
        type=positive_mm,
        metavar="MM",
        help="face: how far from the axis the plunger stood (default: from the method)",
    )
    for option, kinds, what in (
        ("--family", get_args(Family), "of which family the damper is"),
        ("--construction", get_args(Construction), "how its casing is closed, by the edge that is seen"),
    ):
        parser.add_argument(
            option, choices=kinds, help=f"{what} (default: not known, the strictest limits count)"
        )


def options_of(args: argparse.Namespace) -> Options:
    """The options that were given. Raises UsageError where they do not go together."""
    if args.radius_mm is not None and args.check != "face":
        raise UsageError("--radius-mm", f"--check {args.check}", "--check face with it")
    return Options(
        check=args.check,
        method=named_method(args.method).of_damper(args.family, args.construction),
        resolution_mm=args.resolution_mm,
        mpe_mm=args.mpe_mm,
        angle_u_deg=args.angle_u_deg,
        radius_mm=args.radius_mm,
    )


def read_attempt(path: Path, options: Options) -> Attempt:
    """The readings of one file. Raises ReadingsError or OSError."""
    from ringtrue.readings import read_thickness

    if options.check == "thickness":
        return read_thickness(path, gauge=lambda step_nm: _gauge(step_nm, options))
    return read_turn(path, options.check, options)


def read_turn(path: Path, surface: Surface, options: Options) -> Sweep:
    """The sweep of one file. Raises ReadingsError or OSError."""
    from ringtrue.readings import read_sweep

    stated = options.angle_u_deg
    sweep = read_sweep(
        path,
        surface,
        gauge=lambda step_nm: _gauge(step_nm, options),
        angle_u_deg=options.method.typed.angle_u_deg if stated is None else stated,
        radius_mm=options.radius_mm,
    )
    eye_mm = options.method.typed.resolution_mm
    if options.resolution_mm is not None or sweep.gauge.resolution_mm >= eye_mm or _too_fast(sweep):
        return sweep
    return replace(sweep, eye_mm=eye_mm)


def _too_fast(sweep: Sweep) -> bool:
    """Whether the file's times say that no eye read it and no hand wrote it down."""
    took_s = float(sweep.time_s[-1]) if sweep.time_s.size else 0.0
    return 0.0 < took_s < BY_EYE_S * (sweep.time_s.size - 1)


def _gauge(step_nm: int, options: Options) -> GaugeFacts:
    from contract.gauge import GaugeFacts

    typed, resolution = options.method.typed, options.resolution_mm
    if resolution is None:
        shown = step_nm / 1e6
        # Readings all the same say nothing of the step; zero is the step of nothing but zeros.
        resolution = shown if 0.0 < shown < typed.resolution_mm else typed.resolution_mm
    return GaugeFacts("typed", resolution, typed.mpe_mm if options.mpe_mm is None else options.mpe_mm)


def _angle_deg(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0.0 <= value <= 180.0:
        raise argparse.ArgumentTypeError(f"{text!r} is no angle from 0 to 180 degrees")
    return value
