"""The register's tables as CSV, in and out: every wrong row is told of, not only the first."""

from __future__ import annotations

import contextlib
import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, date, datetime
from pathlib import Path

from config.errors import Problem, RingtrueError
from contract.units import THOUSANDS
from contract.words import count_of
from records.register.columns import TABLES, Cell, Column, Row, TableName
from records.register.merging import Incoming, Merged
from ringtrue.tables import MINUS, ReadingsError, Table, short, shown
from ringtrue.tables import Row as Line
from ringtrue.tables import read_table as lines_of

TEXT_MAX = {"serial": 100, "text": 200}
"""Characters; a serial as `open` takes it."""
WRITTEN = re.compile(r"(?P<year>\d{4})-(?P<month>\d\d)-(?P<day>\d\d)", re.ASCII)
DOTTED = re.compile(r"(?P<day>\d{1,2})\.(?P<month>\d{1,2})\.(?P<year>\d{4})", re.ASCII)
"""Day, month, year: whoever parts them by dots begins with the day."""
FIRST_DAY = date(1950, 1, 1)
"""No engine that is in service is older; our own choice."""
FORMULA = re.compile(r"'*\s*[=+@]")
"""A spreadsheet takes a text that begins so for a formula, or did with an apostrophe put before it."""


class NotImportedError(RingtrueError):
    """A file of which nothing was imported: every mistake in it, one a line."""

    def __init__(self, path: Path, problems: Iterable[Problem]) -> None:
        said = sorted(problems, key=lambda one: one.line or 0)
        end = f"{path}: nothing of it was imported: {count_of(len(said), 'mistake')}"
        super().__init__("\n".join((*map(str, said), end)))


def read_table(path: Path, table: TableName, now: datetime) -> tuple[list[Incoming], list[Problem]]:
    """The file's rows, and each mistake in the others. now: with the zone of the workshop.

    Raises ReadingsError where its header is not that of the table, OSError where it cannot be read.
    """
    columns = TABLES[table]
    needed = [column.name for column in columns if column.is_key or column.is_needed]
    optional = [column.name for column in columns if column.name not in needed]
    incoming: list[Incoming] = []
    problems: list[Problem] = []
    read = lines_of(path, needed, optional, mistakes=problems)
    problems += _commented(read)
    for line in read.rows():
        row: Row = {}
        for column in columns:
            if column.name not in line.cells:
                continue
            text = line.cells[column.name]
            try:
                is_number = column.kind == "number" and text
                row[column.name] = _number(line, column) if is_number else _cell(text, column, now)
            except ReadingsError as error:
                problems += error.problems
            except _AmissError as amiss:
                problems.append(line.problem(column.name, amiss.found, amiss.expected))
        if len(row) == len(line.cells):
            incoming.append(Incoming(line.line, row))
    return incoming, problems


def _commented(read: Table) -> Iterator[Problem]:
    """Rows whose serial begins as a comment does: passed over, nobody would miss them."""
    for number, text in enumerate(read.lines, start=read.line + 1):
        row = text.lstrip('" ')
        is_like_one = row.count(read.manner.delimiter) == len(read.header) - 1
        if row.startswith("#") and row[1:2].strip() and is_like_one:
            expected = 'a comment that begins with "# ", or a row whose serial does not begin so'
            yield Problem(str(read.path), number, "row", shown(row), expected)


def problems_of(path: Path, change: Merged) -> list[Problem]:
    """What speaks against putting a file's rows into the register."""
    return [Problem(str(path), one.line, one.column, short(one.found), one.expected) for one in change.wrong]


def typed_row(table: TableName, cells: Mapping[str, str], now: datetime) -> Row:
    """A row that was typed. Raises RingtrueError with what is wrong with it."""
    row: Row = {}
    for column in TABLES[table]:
        try:
            row[column.name] = _cell(cells[column.name].strip(), column, now)
        except _AmissError as amiss:
            raise RingtrueError(f"{column.name}: expected {amiss.expected}, found {amiss.found}") from None
    return row


class _AmissError(Exception):
    """A cell that cannot be taken."""

    def __init__(self, found: str, expected: str) -> None:
        super().__init__(found)
        self.found, self.expected = found, expected


def _cell(text: str, column: Column, now: datetime) -> Cell:
    """One cell that is no number, as its column has it."""
    if not text:
        if column.is_key or column.is_needed:
            raise _AmissError("nothing", column.what)
        return column.empty
    if column.kind == "choice":
        return _choice(text, column)
    if column.kind == "day":
        return _day(text).isoformat()
    if column.kind == "past":
        return _past(text, now)
    if column.kind == "moment":
        return _moment(text, now)
    return _text(text, column)


def _number(line: Line, column: Column) -> Cell:
    text = line.cells[column.name]
    if not column.is_length and THOUSANDS.fullmatch(text.replace(MINUS, "-")):
        expected = f"{column.what}, thousands without a mark, decimals with fewer digits"
        line.refuse(column.name, f"{shown(text)}, which may be either", expected)
    value = line.number(column.name, column.most, column.what)
    if value < column.least:
        line.refuse(column.name, f"{value:g}", f"{column.what}, {column.least:g} or more")
    return value + 0.0


def _text(text: str, column: Column) -> str:
    text = text[1:] if text.startswith("'") and FORMULA.match(text) else text
    most = TEXT_MAX.get(column.kind, TEXT_MAX["text"])
    if len(text) > most or not text.isprintable():
        raise _AmissError(shown(text), f"one line of at most {most} characters")
    return text


def _choice(text: str, column: Column) -> str:
    if text.lower() not in column.choices:
        raise _AmissError(shown(text), column.what)
    return text.lower()


def _past(text: str, now: datetime) -> str:
    day = _day(text)
    if day > now.date():
        raise _AmissError(str(day), f"a day that has come (today is {now.date()})")
    return day.isoformat()


def _moment(text: str, now: datetime) -> str:
    """A day, or a moment with its zone."""
    if "T" not in text:
        return _past(text, now)
    moment = None
    with contextlib.suppress(ValueError):
        moment = datetime.fromisoformat(text)
    if moment is None or moment.tzinfo is None:
        raise _AmissError(shown(text), "a day such as 2026-11-02, or a time such as 2026-11-02T06:30:00Z")
    _of_our_time(moment.date(), text)
    if moment > now:
        raise _AmissError(text, f"a time that has come (it is {as_moment(now)})")
    return as_moment(moment)


def as_moment(moment: datetime) -> str:
    """To the second, in UTC."""
    return moment.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def _day(text: str) -> date:
    """ISO 8601, or with dots and the day first; 3/4/2026 is a day of March or of April."""
    written = WRITTEN.fullmatch(text) or DOTTED.fullmatch(text)
    if written is None:
        raise _AmissError(shown(text), "a day written as 2026-11-02")
    parts = {name: int(part) for name, part in written.groupdict().items()}
    try:
        return _of_our_time(date(**parts), text)
    except ValueError:
        raise _AmissError(shown(text), "a day that is in the calendar") from None


def _of_our_time(day: date, text: str) -> date:
    if day < FIRST_DAY:
        raise _AmissError(shown(text), f"a day from {FIRST_DAY} on: spreadsheets make such of an empty cell")
    return day


def as_csv(table: TableName, rows: Iterable[Row]) -> Iterator[str]:
    """A table as `import` reads it: comma separated, numbers with a point, a text that a spreadsheet would
    take for a formula with an apostrophe before it."""
    names = [column.name for column in TABLES[table]]
    yield _line(names)
    for row in rows:
        yield _line([_written(row[column.name], column) for column in TABLES[table]])


def _written(cell: Cell, column: Column) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return f"'{cell}" if FORMULA.match(cell) else cell
    text = f"{cell:.0f}" if cell.is_integer() else repr(cell)
    return f"{text}0" if THOUSANDS.fullmatch(text) and not column.is_length else text


def _line(cells: Iterable[str]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow(cells)
    return text.getvalue()
