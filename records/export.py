"""Result documents as text that other programs read: a JSON array, or a CSV table."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator
from typing import Any

INSPECTION_COLUMNS: dict[str, tuple[str, ...]] = {
    "inspection": ("inspection",),
    "revision": ("revision",),
    "state": ("state",),
    "site": ("site",),
    "bay": ("bay",),
    "scope": ("scope",),
    "work_order": ("work_order",),
    "engine": ("engine", "serial"),
    "distance_km": ("engine", "distance_km"),
    "hours_h": ("engine", "hours_h"),
    "damper": ("damper", "serial"),
    "construction": ("damper", "construction"),
    "opened": ("opened",),
    "closed": ("closed",),
    "signed_by": ("signed_by",),
    "method": ("method", "id"),
    "method_version": ("method", "version"),
    "verdict": ("verdict",),
}
"""Column → where it stands in a document."""

CHECK_COLUMNS: dict[str, tuple[str, ...]] = {
    column: (column,)
    for column in (
        "outcome",
        "limit_mm",
        "tir_mm",
        "true_tir_mm",
        "spread_mm",
        "true_spread_mm",
        "u_expanded_mm",
        "coverage",
        "p_over",
        "eccentricity_mm",
        "high_spot_deg",
        "tilt_mrad",
        "readings",
    )
} | {"gauge": ("gauge", "id"), "reason": ("reason",)}
"""Column → where it stands in one check of a document."""

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

    Lengths in mm; a cell is empty where a check has no such figure. A row is one line: control
    characters become spaces. A text that a spreadsheet would take for a formula gets an apostrophe.
    """
    yield _line([*INSPECTION_COLUMNS, "check", *CHECK_COLUMNS])
    for document in documents:
        result: dict[str, Any] = json.loads(document)
        head = [_at(result, path) for path in INSPECTION_COLUMNS.values()]
        for name, check in result.get("checks", {}).items():
            yield _line([*head, name, *(_at(check, path) for path in CHECK_COLUMNS.values())])


def _at(part: Any, path: tuple[str, ...]) -> Any:
    """What stands there; None where nothing does."""
    for key in path:
        part = part.get(key) if isinstance(part, dict) else None
    return part


def _line(cells: Iterable[object]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow([_cell(cell) for cell in cells])
    return text.getvalue()


def _cell(cell: object) -> object:
    if not isinstance(cell, str):
        return "" if cell is None else cell
    text = "".join(char if char.isprintable() else " " for char in cell)
    return f"'{text}" if text.lstrip().startswith(FORMULA_STARTS) else text
