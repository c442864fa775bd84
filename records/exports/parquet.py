"""The table of checks as Parquet, by DuckDB: what a fleet's own evaluations read."""

from __future__ import annotations

import json
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
                out.write(json.dumps(dict(zip(_NAMES, map(_text, row), strict=True))) + "\n")
        texts = ", ".join(f"'{name}': 'VARCHAR'" for name in _NAMES)
        typed = ", ".join(f'TRY_CAST("{name}" AS {TYPES[kind]}) AS "{name}"' for name, _, kind in COLUMNS)
        database.execute(
            f"COPY (SELECT {typed} FROM read_json(?, format = 'newline_delimited', columns = {{{texts}}})) "  # noqa: S608 our own columns' names, nothing of a record
            "TO ? (FORMAT parquet, PARQUET_VERSION v2, COMPRESSION zstd)",
            [str(lines), str(file)],
        )
        return file.read_bytes()


_NAMES = tuple(column.name for column in COLUMNS)


def _text(cell: Any) -> str | None:
    """As a text that its type is read from: a double as it is written reads back as the same double."""
    return None if cell is None else str(cell)
