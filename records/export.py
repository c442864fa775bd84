"""Result documents as text that other programs read: a JSON array, or a CSV table."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator
from typing import Any

INSPECTION_COLUMNS = (
    "inspection", "revision", "state", "site", "bay", "engine", "damper", "opened", "closed", "verdict",
    "method", "method_version",
)  # fmt: skip

CHECK_COLUMNS = (
    "outcome", "limit_mm", "tir_mm", "true_tir_mm", "spread_mm", "u_expanded_mm", "coverage", "p_over",
    "eccentricity_mm", "high_spot_deg", "tilt_mrad", "readings",
)  # fmt: skip

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
    yield _line([*INSPECTION_COLUMNS, "check", *CHECK_COLUMNS, "gauge", "reasons"])
    for document in documents:
        result: dict[str, Any] = json.loads(document)
        head = {
            **result,
            "engine": result["engine"].get("serial"),
            "damper": result["damper"].get("serial"),
            "method": result.get("method", {}).get("id"),
            "method_version": result.get("method", {}).get("version"),
        }
        reasons = "; ".join(result.get("reasons", []))
        for name, check in result.get("checks", {}).items():
            yield _line(
                [
                    *(head.get(column) for column in INSPECTION_COLUMNS),
                    name,
                    *(check.get(column) for column in CHECK_COLUMNS),
                    (check.get("gauge") or {}).get("id"),
                    reasons,
                ]
            )


def _line(cells: Iterable[object]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow([_cell(cell) for cell in cells])
    return text.getvalue()


def _cell(cell: object) -> object:
    if not isinstance(cell, str):
        return "" if cell is None else cell
    text = "".join(char if char.isprintable() else " " for char in cell)
    return f"'{text}" if text.lstrip().startswith(FORMULA_STARTS) else text
