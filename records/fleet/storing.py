"""Rows that are known not to be there into the tables that hold them, by COPY: the least that a row costs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from functools import cache
from typing import Any

from sqlalchemy import Connection, Table

from records.fleet.held import kind_of
from records.fleet.packing import Kind, packed_rows
from records.fleet.reading import Document, Record
from records.fleet.rows import Row, chain_row, result_row
from records.fleet.tables import CHAIN, RESULTS, REVISIONS


def store(connection: Connection, documents: Iterable[tuple[Document, date]]) -> None:
    """Results, each with its month."""
    rows = [result_row(*one) for one in documents]
    _copy(connection, REVISIONS, rows)
    _copy(connection, RESULTS, rows)


def store_records(connection: Connection, records: Iterable[Record]) -> None:
    """Records of chains."""
    _copy(connection, CHAIN, [chain_row(one) for one in records])


def _copy(connection: Connection, table: Table, rows: Sequence[Row]) -> None:
    if not rows:
        return
    statement, kinds = _statement(table)
    driver: Any = connection.connection.driver_connection
    with driver.cursor() as cursor, cursor.copy(statement) as copy:
        copy.write(packed_rows(kinds, rows))


@cache
def _statement(table: Table) -> tuple[str, tuple[tuple[str, Kind], ...]]:
    kinds = tuple((one.name, kind_of(one)) for one in table.c if one.name != "stored")
    return f"COPY {table.name} ({', '.join(name for name, _ in kinds)}) FROM STDIN (FORMAT binary)", kinds
