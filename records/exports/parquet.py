"""The table of checks as Parquet, by DuckDB: what a fleet's own evaluations read."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from records.errors import NotInstalledError
from records.exports.table import COLUMNS, Kind, rows

TYPES: dict[Kind, str] = {"text": "VARCHAR", "number": "DOUBLE", "count": "BIGINT", "moment": "TIMESTAMPTZ"}


def as_parquet(documents: Iterable[bytes]) -> bytes:
    """A Parquet file: the columns of the CSV, each of its type; null where a document has no such figure, or
    something else in its place.

    Raises NotInstalledError where the library is not there.
    """
    try:
        import duckdb
    except ImportError:
        raise NotInstalledError("duckdb", "Parquet", "--format csv") from None
    with TemporaryDirectory(prefix="ringtrue-export-") as folder, duckdb.connect() as database:
        lines, file = Path(folder, "rows.ndjson"), Path(folder, "rows.parquet")
        with lines.open("w", encoding="utf-8") as out:
            for row in rows(documents):
                cells = (_text(cell, column.kind) for column, cell in zip(COLUMNS, row, strict=True))
                out.write(json.dumps(dict(zip(_NAMES, cells, strict=True))) + "\n")
        texts = ", ".join(f"'{name}': 'VARCHAR'" for name in _NAMES)
        typed = ", ".join(f'TRY_CAST("{name}" AS {TYPES[kind]}) AS "{name}"' for name, _, kind in COLUMNS)
        database.execute(
            f"COPY (SELECT {typed} FROM read_json(?, format = 'newline_delimited', columns = {{{texts}}})) "  # noqa: S608 our own columns' names, nothing of a record
            "TO ? (FORMAT parquet, PARQUET_VERSION v2, COMPRESSION zstd)",
            [str(lines), str(file)],
        )
        return file.read_bytes()


_NAMES = tuple(column.name for column in COLUMNS)


def _text(cell: Any, kind: Kind) -> str | None:
    """As a text that its type is read from: a double as it is written reads back as the same double. What is
    no number (JSON has no NaN, but somebody may have written one) would be the greatest of them all."""
    is_number = kind in ("number", "count")
    if cell is None or (is_number and not (isinstance(cell, int | float) and math.isfinite(cell))):
        return None
    return str(cell)
