"""Small CSV files that people hand in: UTF-8, a header line, commas, `#` comments."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from pathlib import Path

from config.errors import ConfigError, Problem


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table: its number in the file and its cells by column."""

    line: int
    cells: dict[str, str]


def read_table(path: Path, columns: Sequence[str]) -> list[Row]:
    """The rows of a file that has at least these columns.

    Raises ConfigError with every mistake in the header and in the number of cells; OSError where
    the file cannot be read.
    """
    name = str(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise ConfigError([Problem(name, None, "text", "other bytes", "UTF-8")]) from None
    lines = list(_lines(text))
    if not lines:
        raise ConfigError([Problem(name, None, "header", "nothing", f"the line {','.join(columns)}")])
    number, header = lines[0]
    missing = [column for column in columns if column not in header]
    if missing or len(set(header)) != len(header):
        found = ",".join(header)
        raise ConfigError([Problem(name, number, "header", found, f"columns {','.join(columns)}, once each")])
    wrong = [
        Problem(name, number, "cells", f"{len(cells)}", f"{len(header)}")
        for number, cells in lines[1:]
        if len(cells) != len(header)
    ]
    if wrong:
        raise ConfigError(wrong)
    return [Row(number, dict(zip(header, cells, strict=True))) for number, cells in lines[1:]]


def length_nm(text: str) -> int | None:
    """A length in mm as whole nanometres, rounded half-even; None where it is no finite number."""
    try:
        value = Decimal(text)
        return int((value * 1_000_000).to_integral_value()) if abs(value) < 1_000_000 else None
    except InvalidOperation:
        return None


def _lines(text: str) -> Iterator[tuple[int, list[str]]]:
    """Numbered lines that are neither empty nor a comment, cut at their commas."""
    kept = [line if not line.lstrip().startswith("#") else "" for line in text.splitlines()]
    reader = csv.reader(io.StringIO("\n".join(kept)))
    for cells in reader:
        if any(cell.strip() for cell in cells):
            yield reader.line_num, [cell.strip() for cell in cells]
