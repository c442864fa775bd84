"""Values on the command line: what argparse calls to read them, and the error for those that clash."""

from __future__ import annotations

import argparse
import os
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from config.errors import RingtrueError

if TYPE_CHECKING:
    from config.method import Method
    from config.profile import GaugeProfile, SerialPort

LENGTH_MAX_MM = 1000.0
"""Longer than any gauge's travel or error: more is a slip of the keyboard."""


class UsageError(RingtrueError):
    """Options that are fine each by itself but not together, or with the files they name."""

    exit_code: ClassVar[int] = 2

    def __init__(self, option: str, found: str, expected: str) -> None:
        super().__init__(f"{option}: expected {expected}, found {found}")


def add_unit(parser: argparse.ArgumentParser, help_text: str) -> None:
    """The option `--unit`: in which unit a person reads lengths."""
    parser.add_argument("--unit", choices=("mm", "in"), default="mm", help=help_text)


def length_mm(text: str) -> float:
    """A length in mm, from zero to `LENGTH_MAX_MM`."""
    value = _number(text)
    if not 0.0 <= value <= LENGTH_MAX_MM:
        raise argparse.ArgumentTypeError(f"{text!r} is no length from zero to {LENGTH_MAX_MM:g} mm")
    return value


def positive_mm(text: str) -> float:
    """A length in mm above zero."""
    value = length_mm(text)
    if value == 0.0:
        raise argparse.ArgumentTypeError(f"{text!r} is no length above zero")
    return value


def proof(text: str) -> float:
    """A probability that proves something: between 0.5 and 1."""
    value = _number(text)
    if not 0.5 < value < 1.0:
        raise argparse.ArgumentTypeError(f"{text!r} does not lie between 0.5 and 1")
    return value


def count(text: str) -> int:
    """A whole number from 1 to 1000."""
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= 1000):
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number from 1 to 1000")
    return int(text)


def seconds(text: str) -> float:
    """A time in seconds, above zero and of a day at most."""
    value = _number(text)
    if not 0.0 < value <= 86_400.0:
        raise argparse.ArgumentTypeError(f"{text!r} is no time above zero and of at most 86400 s")
    return value


def byte(text: str) -> int:
    """A whole number from 0 to 255."""
    if not (text.isascii() and text.isdigit() and int(text) <= 255):
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number from 0 to 255")
    return int(text)


def seconds_or_none(text: str) -> float:
    """A time in seconds, of an hour at most; 0: none."""
    value = _number(text)
    if not 0.0 <= value <= 3_600.0:
        raise argparse.ArgumentTypeError(f"{text!r} is no time from zero to 3600 s")
    return value


def positive(text: str) -> Decimal:
    """A number above zero and of at most a thousand, exact as typed."""
    try:
        value = Decimal(text)
    except ArithmeticError:
        value = Decimal(0)
    if not (value.is_finite() and 0 < value <= 1000):
        raise argparse.ArgumentTypeError(f"{text!r} is no number above zero and of at most 1000")
    return value


def baud(text: str) -> int:
    """A speed in bit/s."""
    if not (text.isascii() and text.isdigit() and 50 <= int(text) <= 4_000_000):
        raise argparse.ArgumentTypeError(f"{text!r} is no speed from 50 to 4000000 bit/s")
    return int(text)


def serial_frame(text: str) -> SerialPort:
    """Bits of a character, parity and stop bits, such as 8N1 or 7E1."""
    from config.profile import SerialPort

    parity = {"N": "none", "E": "even", "O": "odd"}
    frame = text.upper()
    if not (len(frame) == 3 and frame[0] in "78" and frame[1] in parity and frame[2] in "12"):
        raise argparse.ArgumentTypeError(f"{text!r} is no frame such as 8N1, 7E1 or 7O2")
    return SerialPort.model_validate(
        {"bytesize": int(frame[0]), "parity": parity[frame[1]], "stopbits": int(frame[2])}
    )


def named_profile(value: str) -> GaugeProfile:
    """A gauge profile's file, or the name of one that ships."""
    from config.files import resolve
    from config.profile import GaugeProfile
    from config.toml import read_toml

    try:
        path = resolve(value, "gauges", Path())
    except FileNotFoundError as error:
        raise RingtrueError(f"--profile {value}: {error}; give a profile's file or such a name") from None
    return read_toml(path, GaugeProfile)


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no number with a point such as 0.12") from None


def placed(output: str, name: str) -> Path:
    """The file to make: `output`, or where that is a folder the one of this name in it.

    Raises UsageError for a name that ends as a folder's does and is none: of a stick that is not plugged in
    no file is made on the very disk that it is to outlive.
    """
    if Path(output).is_dir():
        return Path(output) / name
    if output.endswith(os.sep):
        raise UsageError("-o", output, "a folder that is there (make it first, or plug it in)")
    return Path(output)


def add_config(parser: argparse.ArgumentParser) -> None:
    """`--config`, as every command of a bay has it."""
    parser.add_argument(
        "--config",
        type=Path,
        default=Path("ringtrue.toml"),
        metavar="FILE",
        help="the bay's configuration (default: %(default)s)",
    )


def named_method(value: str, argument: str = "--method") -> Method:
    """A method's file, or the name of one that ships; argument: where it was given."""
    from config.files import resolve
    from config.method import Method
    from config.toml import read_toml

    try:
        path = resolve(value, "methods", Path())
    except FileNotFoundError as error:
        raise RingtrueError(f"{argument} {value}: {error}; give a method's file or such a name") from None
    return read_toml(path, Method)


def missing_file(url: str) -> str | None:
    """The file that a database address names, where it is not there."""
    scheme, _, name = url.partition(":///")
    is_file = scheme.startswith("sqlite") and name not in ("", ":memory:")
    return name if is_file and not Path(name).exists() else None
