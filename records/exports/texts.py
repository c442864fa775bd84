"""Result documents as text that other programs read: a JSON array, or a CSV table."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator

from records.exports.table import COLUMNS, rows

FORMULA_STARTS = ("=", "+", "@")
"""A spreadsheet takes a text that begins so for a formula; a minus is left alone, serials have it."""


def as_json(documents: Iterable[bytes]) -> Iterator[str]:
    """A JSON array (RFC 8259) with one document on each line, unchanged."""
    separator = "[\n"
    for document in documents:
        yield separator + document.decode()
        separator = ",\n"
    yield "[]\n" if separator == "[\n" else "\n]\n"


def as_csv(documents: Iterable[bytes]) -> Iterator[str]:
    """A CSV table (RFC 4180 quoting) with a header, one row per check of each document.

    A cell is empty where a check has no such figure. A row is one line: control characters become
    spaces. A text that a spreadsheet would take for a formula gets an apostrophe.
    """
    yield _line(column.name for column in COLUMNS)
    for row in rows(documents):
        yield _line(row)


def _line(cells: Iterable[object]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow([_cell(cell) for cell in cells])
    return text.getvalue()


def _cell(cell: object) -> object:
    if not isinstance(cell, str):
        return "" if cell is None else cell
    text = "".join(char if char.isprintable() else " " for char in cell)
    return f"'{text}" if text.lstrip().startswith(FORMULA_STARTS) else text
