"""CSV files that people hand in: a header line, `#` comments, as an editor or a spreadsheet writes them.

Cells are parted by commas, or as the header shows by semicolons or tabs, and then numbers may have a
decimal comma; cells may be quoted, columns be named in capitals, lines end with empty cells, the file begin
with a byte order mark.
What could mean two things is refused, in one line that says where and why.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import NoReturn

from config.errors import Problem, RingtrueError
from contract.units import NM_PER_MM

BYTES_MAX = 100_000_000
"""A sweep of a whole day at 50 readings a second is about half of it; more is another kind of file."""
VALUE_MAX_MM = 1_000
"""Longer than any indicator's travel or casing's thickness: more is a lost decimal point."""

NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
# What such numbers are written with where nobody had a hand in it.
PLAIN = frozenset("0123456789.,-+")
MINUS = "\N{MINUS SIGN}"
"""What a word processor makes of a hyphen before a number."""
COMMA_NUMBER = re.compile(r"[+-]?\d*,\d+", re.ASCII)
# A comment that says what was read, so that a rim is not graded as a face.
CHECK = re.compile(r"#\s*check\s*:\s*([a-z-]+)\s*", re.ASCII)


class ReadingsError(RingtrueError):
    """A file of readings that cannot be understood: one line for each mistake."""

    exit_code = 3

    def __init__(self, *problems: Problem) -> None:
        super().__init__("\n".join(map(str, problems)))
        self.problems = problems


@dataclass(slots=True)
class _Manner:
    """How one file is written: what parts its cells, and the decimal mark that it has shown so far."""

    delimiter: str
    mark: str | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """One line's cells by column, read with the file and line at hand for a mistake."""

    path: Path
    line: int
    cells: dict[str, str]
    manner: _Manner

    def problem(self, column: str, found: str, expected: str) -> Problem:
        """A mistake in this row."""
        return Problem(str(self.path), self.line, column, short(found), expected)

    def refuse(self, column: str, found: str, expected: str) -> NoReturn:
        """Raise it."""
        raise ReadingsError(self.problem(column, found, expected))

    def number(self, column: str, largest: float, what: str) -> float:
        """A finite number of at most `largest` in size."""
        text = self._plain(column, f"{what} such as 12.5")
        value = float(text)
        if abs(value) > largest or not math.isfinite(value):
            self.refuse(column, text, f"{what} between -{largest:g} and {largest:g}")
        return value

    def length_nm(self, column: str) -> int:
        """A length in mm as whole nanometres; a finer one is rounded half to even."""
        text = self._plain(column, "a length in mm such as 0.12")
        value = Decimal(text)
        if abs(value) > VALUE_MAX_MM:
            self.refuse(column, text, f"a length in mm between -{VALUE_MAX_MM} and {VALUE_MAX_MM}")
        return int((value * NM_PER_MM).to_integral_value())

    def _plain(self, column: str, expected: str) -> str:
        """A number's text with a decimal point."""
        text = self.cells[column].replace(MINUS, "-")
        is_comma = COMMA_NUMBER.fullmatch(text) is not None
        if is_comma and self.manner.delimiter == ",":
            self.refuse(column, shown(text), f"{expected}, with a point, as commas part the cells")
        if not is_comma and not NUMBER.fullmatch(text):
            self.refuse(column, shown(text), expected)
        mark = "," if is_comma else "." if "." in text else None
        if mark is not None:
            before, self.manner.mark = self.manner.mark, mark
            if before not in (None, mark):
                self.refuse(column, shown(text), f"decimal {_MARKS[before]} as above, or nowhere")
        return text.replace(",", ".")


_MARKS = {",": "commas", ".": "points"}


@dataclass(frozen=True, slots=True)
class Table:
    """A file from its header on. line: the header's number; lines: those after it."""

    path: Path
    header: list[str]
    line: int
    lines: list[str]
    check: str | None
    manner: _Manner
    mistakes: list[Problem] | None = None

    def rows(self) -> Iterator[Row]:
        """One by one. Raises ReadingsError at the first that is none, where mistakes are not collected."""
        for number, raw in enumerate(self.lines, start=self.line + 1):
            line = raw.strip(" ")
            if _says_nothing(self.path, number, line, self.check):
                continue
            try:
                cells = _row(self.path, number, line, self.header, self.manner.delimiter)
            except ReadingsError as error:
                if self.mistakes is None:
                    raise
                self.mistakes.extend(error.problems)
                continue
            yield Row(self.path, number, dict(zip(self.header, cells, strict=True)), self.manner)

    def numbers(self) -> dict[str, list[float]] | None:
        """The columns of a file that a program has written: numbers with points, parted by commas, and
        nothing else. None where anything else is there: then the rows say what."""
        lines = self.lines[:-1] if self.lines and not self.lines[-1] else self.lines
        width = len(self.header)
        if self.manner.delimiter != "," or not set("".join(lines)) <= PLAIN:
            return None
        if any(line.count(",") != width - 1 for line in lines):
            return None
        try:
            cells = list(map(float, ",".join(lines).split(",")))
        except ValueError:
            return None
        return {column: cells[i::width] for i, column in enumerate(self.header)}


def read_rows(
    path: Path,
    needed: Sequence[str],
    optional: Sequence[str] = (),
    *,
    others: bool = False,
) -> Iterator[Row]:
    """The rows of `read_table`."""
    yield from read_table(path, needed, optional, others=others).rows()


def read_table(
    path: Path,
    needed: Sequence[str],
    optional: Sequence[str] = (),
    *,
    others: bool = False,
    check: str | None = None,
    mistakes: list[Problem] | None = None,
) -> Table:
    """The file's lines and the header's columns.

    others: whether further columns may stand there. check: what the file is to hold; a comment
    `# check: rim` in it must say the same. mistakes: where rows that cannot be cut into cells are told of and
    passed over. Raises ReadingsError, or OSError where it cannot be read.
    """
    wanted = f"the header {','.join(needed)}" + "".join(f"[,{column}]" for column in optional)
    lines = _lines(path)
    for number, raw in enumerate(lines, start=1):
        line = raw.strip(" ")
        if _says_nothing(path, number, line, check) or re.fullmatch(r"sep=.", line):
            continue
        try:
            manner, header = _header(path, number, line, needed, None if others else optional, wanted)
        except ReadingsError as error:
            amiss = [] if mistakes is None else _columns_amiss(path, number, line, needed, optional)
            raise ReadingsError(*(amiss or error.problems)) from None
        return Table(path, header, number, lines[number:], check, manner, mistakes)
    raise _mistake(path, None, "file", "no line of text", f"the header {','.join(needed)}")


def _says_nothing(path: Path, number: int, line: str, check: str | None) -> bool:
    """Whether a line is a comment or empty. Raises ReadingsError where a comment tells of another check."""
    if line.lstrip('" ').startswith("#"):
        _refuse_other_check(path, number, line, check)
        return True
    return not line.strip(',;\t "')


def _row(path: Path, number: int, line: str, header: list[str], delimiter: str) -> list[str]:
    """A line's cells, as many as the header has."""
    cells = _cut(path, number, line, delimiter)
    while len(cells) > len(header) and not cells[-1]:
        cells.pop()
    if len(cells) != len(header):
        raise _mistake(path, number, "row", *_miscounted(line, header, delimiter))
    return cells


def _lines(path: Path) -> list[str]:
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
    return re.split(r"\r\n|\r|\n", text)


def _refuse_other_check(path: Path, number: int, line: str, check: str | None) -> None:
    said = CHECK.match(line.strip('" ,;\t'))
    if said is not None and check is not None and said.group(1) != check:
        raise _mistake(path, number, "check", said.group(1), f"readings of {check}, as --check says")


def _header(
    path: Path,
    number: int,
    line: str,
    needed: Sequence[str],
    optional: Sequence[str] | None,
    wanted: str,
) -> tuple[_Manner, list[str]]:
    """How the file is written, and its columns, in small letters however they are written. optional: which
    others may be there; None: any."""
    for delimiter in _delimiters(line):
        cells = [cell.lower() for cell in _cut(path, number, line, delimiter)]
        while cells and not cells[-1]:
            cells.pop()
        allowed = set(cells) if optional is None else {*needed, *optional}
        if set(needed) <= set(cells) <= allowed and len(set(cells)) == len(cells):
            return _Manner(delimiter), cells
    others = [] if optional is None else _others(path, number, line, needed, optional)
    out = f", of which take {', '.join(others)} out" if others else ""
    raise _mistake(path, number, "header", f"{shown(line)}{out}", wanted)


def _others(path: Path, number: int, line: str, needed: Sequence[str], optional: Sequence[str]) -> list[str]:
    """The columns that should not be there, of a header that has all that should."""
    for delimiter in _delimiters(line):
        cells = [cell.lower() for cell in _cut(path, number, line, delimiter)]
        if set(needed) <= set(cells):
            return [shown(cell) for cell in dict.fromkeys(cells) if cell and cell not in (*needed, *optional)]
    return []


def _delimiters(line: str) -> list[str]:
    """What may part the cells of a header; of a single column nothing does."""
    return [delimiter for delimiter in ",;\t" if delimiter in line] or [","]


def _columns_amiss(
    path: Path, number: int, line: str, needed: Sequence[str], optional: Sequence[str]
) -> list[Problem]:
    """Each column that a header lacks, has twice or should not have; none where it is no header at all."""
    known = [*needed, *optional]
    cut = [[cell.lower() for cell in _cut(path, number, line, delimiter)] for delimiter in _delimiters(line)]
    cells = max(cut, key=lambda cells: len(set(cells) & set(known)))
    while cells and not cells[-1]:
        cells.pop()
    if not set(cells) & set(known):
        return []
    wrong = [("nothing of that name", f"a column {column}") for column in needed if column not in cells]
    wrong += [
        (f"a column {shown(cell)}", f"no other than {', '.join(known)}")
        for cell in dict.fromkeys(cells)
        if cell not in known
    ]
    wrong += [
        (f"{cell} {cells.count(cell)} times", "each column once")
        for cell in dict.fromkeys(cells)
        if cells.count(cell) > 1
    ]
    return [Problem(str(path), number, "header", found, expected) for found, expected in wrong]


def _cut(path: Path, number: int, line: str, delimiter: str) -> list[str]:
    if '"' not in line:
        return [cell.strip() for cell in line.split(delimiter)]
    try:
        (cells,) = csv.reader([line], delimiter=delimiter, strict=True, skipinitialspace=True)
    except (csv.Error, ValueError):
        raise _mistake(path, number, "row", shown(line), "quoted cells that end where they begin") from None
    return [cell.strip() for cell in cells]


def _miscounted(text: str, header: list[str], delimiter: str) -> tuple[str, str]:
    """What was found and expected where a row has too few or too many cells."""
    expected = f"{len(header)} cells: {','.join(header)}"
    if delimiter != ",":
        return shown(text), f"{expected}, parted as in the header"
    if ";" in text:
        return f"{shown(text)} with semicolons", f"{expected}, parted by commas as in the header"
    if text.count(",") >= len(header) and re.search(r"\d,\d", text):
        return f"{shown(text)} with decimal commas", f"{expected}, numbers with a point such as 0.12"
    return shown(text), expected


def _mistake(path: Path, line: int | None, key: str, found: str, expected: str) -> ReadingsError:
    return ReadingsError(Problem(str(path), line, key, found, expected))


def shown(text: str) -> str:
    """A piece of the file for a message: quoted, one line, nothing that a terminal would obey."""
    return short(repr(text)) if text else "nothing"


def short(text: str) -> str:
    """At most so many characters as keep a message one line."""
    return text if len(text) <= 60 else text[:59] + "…"
