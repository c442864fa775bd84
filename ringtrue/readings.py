"""Files of readings: CSV, UTF-8, a header line, commas between columns, `#` comments.

`rim` and `face`: columns angle_deg,value_mm and optionally time_s. `thickness`: columns
station_deg,radius,value_mm. The first mistake refuses the file, in one line that says where.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import NoReturn

import numpy as np

from config.errors import Problem, RingtrueError
from drivers.reading import NM_PER_MM
from grading.evidence import F64, GaugeFacts, Radius, Surface, Sweep, Thickness, ThicknessReading

BYTES_MAX = 100_000_000
"""A sweep of a whole day at 50 readings a second is about half of it; more is another kind of file."""
VALUE_MAX_MM = 1_000
"""Longer than any indicator's travel or casing's thickness: more is a lost decimal point."""
ANGLE_MAX_DEG = 360_000
"""A thousand turns."""

NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+", re.ASCII)


class ReadingsError(RingtrueError):
    """A file of readings that cannot be understood."""

    exit_code = 3

    def __init__(self, problem: Problem) -> None:
        super().__init__(str(problem))
        self.problem = problem


def read_sweep(
    path: Path, surface: Surface, *, gauge: Callable[[int], GaugeFacts], angle_u_deg: float
) -> Sweep:
    """A sweep from its file. gauge: the gauge's facts, given the step that all readings are multiples
    of, nm. angle_u_deg: standard uncertainty of every angle.

    Raises ReadingsError where the file is not as it should be, OSError where it cannot be read.
    """
    angles: list[float] = []
    values: list[int] = []
    times: list[float] = []
    for row in _rows(path, ("angle_deg", "value_mm"), ("time_s",)):
        angles.append(row.number("angle_deg", ANGLE_MAX_DEG, "an angle in degrees"))
        values.append(row.length_nm("value_mm"))
        if "time_s" in row.cells:
            time = row.number("time_s", 1e9, "a time in seconds")
            if times and time < times[-1]:
                row.refuse("time_s", f"{time:g} after {times[-1]:g}", "times in the order of the readings")
            times.append(time)
    n = len(values)
    return Sweep(
        surface=surface,
        angle_deg=np.array(angles, dtype=np.float64),
        value_mm=np.array(values, dtype=np.float64) / NM_PER_MM,
        angle_u_deg=np.full(n, angle_u_deg),
        time_s=_from_zero(times) if times else np.zeros(n),
        gauge=gauge(math.gcd(*values)),
    )


def read_thickness(path: Path, *, gauge: Callable[[int], GaugeFacts]) -> Thickness:
    """Thickness readings from their file; otherwise as `read_sweep`."""
    readings = []
    for row in _rows(path, ("station_deg", "radius", "value_mm"), ()):
        station = row.number("station_deg", ANGLE_MAX_DEG, "an angle in degrees") % 360.0
        readings.append(ThicknessReading(station, row.radius(), row.length_nm("value_mm")))
    return Thickness(tuple(readings), gauge(math.gcd(*(r.value_nm for r in readings))))


def _from_zero(times: list[float]) -> F64:
    seconds = np.array(times, dtype=np.float64)
    return np.asarray(seconds - seconds[0])


class _Row:
    """One line's cells by column, read with the file and line at hand for a mistake."""

    __slots__ = ("cells", "line", "path")

    def __init__(self, path: Path, line: int, cells: dict[str, str]) -> None:
        self.path, self.line, self.cells = path, line, cells

    def refuse(self, column: str, found: str, expected: str) -> NoReturn:
        raise ReadingsError(Problem(str(self.path), self.line, column, _short(found), expected))

    def number(self, column: str, largest: float, what: str) -> float:
        """A finite number of at most `largest` in size."""
        text = self.cells[column]
        if not NUMBER.fullmatch(text):
            self.refuse(column, _shown(text), f"{what} such as 12.5")
        value = float(text)
        if abs(value) > largest:
            self.refuse(column, text, f"{what} between -{largest:g} and {largest:g}")
        return value

    def length_nm(self, column: str) -> int:
        """A length in mm as whole nanometres; a finer one is rounded half to even."""
        text = self.cells[column]
        if not NUMBER.fullmatch(text):
            self.refuse(column, _shown(text), "a length in mm such as 0.12")
        value = Decimal(text)
        if abs(value) > VALUE_MAX_MM:
            self.refuse(column, text, f"a length in mm between -{VALUE_MAX_MM} and {VALUE_MAX_MM}")
        return int((value * NM_PER_MM).to_integral_value())

    def radius(self) -> Radius:
        text = self.cells["radius"]
        if text == "outer":
            return "outer"
        if text != "inner":
            self.refuse("radius", _shown(text), "outer or inner")
        return "inner"


def _rows(path: Path, needed: tuple[str, ...], optional: tuple[str, ...]) -> Iterator[_Row]:
    """The file's rows, each with the header's columns; none where there is only a header."""
    with path.open("rb") as file:
        raw = file.read(BYTES_MAX + 1)
    if len(raw) > BYTES_MAX:
        raise _mistake(path, None, "file", f"more than {BYTES_MAX // 1_000_000} MB", "a file of readings")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        found = f"the byte 0x{raw[error.start]:02x}"
        raise _mistake(path, line, "text", found, "UTF-8 text (save the file as CSV, UTF-8)") from None
    header: list[str] | None = None
    for number, line_text in enumerate(re.split(r"\r\n|\r|\n", text), start=1):
        line_text = line_text.strip()
        if not line_text or line_text.startswith("#"):
            continue
        cells = [cell.strip() for cell in line_text.split(",")]
        if header is None:
            header = _header(path, number, line_text, cells, needed, optional)
            continue
        if len(cells) != len(header):
            raise _mistake(path, number, "row", *_miscounted(line_text, header))
        yield _Row(path, number, dict(zip(header, cells, strict=True)))
    if header is None:
        raise _mistake(path, None, "file", "no line of text", f"the header {','.join(needed)}")


def _header(
    path: Path, number: int, text: str, cells: list[str], needed: tuple[str, ...], optional: tuple[str, ...]
) -> list[str]:
    wanted = f"the header {','.join(needed)}" + "".join(f"[,{column}]" for column in optional)
    if set(needed) <= set(cells) <= {*needed, *optional} and len(set(cells)) == len(cells):
        return cells
    found = _shown(text)
    if ";" in text or "\t" in text:
        found += " (columns are parted by commas, numbers written with a point)"
    raise _mistake(path, number, "header", found, wanted)


def _miscounted(text: str, header: list[str]) -> tuple[str, str]:
    """What was found and expected where a row has too few or too many cells."""
    expected = f"{len(header)} cells: {','.join(header)}"
    if ";" in text:
        return f"{_shown(text)} with semicolons", f"{expected}, parted by commas, numbers with a point"
    if text.count(",") >= len(header) and COMMA_NUMBER.search(text):
        return f"{_shown(text)} with decimal commas", f"{expected}, numbers with a point such as 0.12"
    return _shown(text), expected


def _mistake(path: Path, line: int | None, key: str, found: str, expected: str) -> ReadingsError:
    return ReadingsError(Problem(str(path), line, key, found, expected))


def _shown(text: str) -> str:
    """A piece of the file for a message: quoted, one line, nothing that a terminal would obey."""
    return _short(repr(text)) if text else "nothing"


def _short(text: str) -> str:
    return text if len(text) <= 60 else text[:59] + "…"
