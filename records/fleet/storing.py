"""Rows that are known not to be there into the tables that hold them, by COPY: the least that a row costs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from functools import cache
from typing import Any, TypeVar

from sqlalchemy import Connection, Table

from records.fleet.held import kind_of
from records.fleet.packing import Kind, Packing
from records.fleet.reading import Document, Record
from records.fleet.rows import Row, chain_row, result_row, revision_row
from records.fleet.tables import CHAIN, RESULTS, REVISIONS

AT_ONCE = 100
"""Rows that are packed and sent, while the server takes those before."""
Item = TypeVar("Item")


def store(connection: Connection, documents: Sequence[tuple[Document, date]]) -> None:
    """Results, each with its month."""
    _copy(connection, REVISIONS, documents, lambda one: revision_row(*one))
    _copy(connection, RESULTS, documents, lambda one: result_row(*one))


def store_records(connection: Connection, records: Sequence[Record]) -> None:
    """Records of chains."""
    _copy(connection, CHAIN, records, chain_row)


def _copy(connection: Connection, table: Table, items: Sequence[Item], row: Callable[[Item], Row]) -> None:
    if not items:
        return
    statement, kinds = _statement(table)
    packing = Packing(kinds)
    driver: Any = connection.connection.driver_connection
    with driver.cursor() as cursor, cursor.copy(statement) as copy:
        copy.write(packing.BEGIN)
        for n in range(0, len(items), AT_ONCE):
            copy.write(packing.rows([row(one) for one in items[n : n + AT_ONCE]]))
        copy.write(packing.END)


@cache
def _statement(table: Table) -> tuple[str, tuple[tuple[str, Kind], ...]]:
    kinds = tuple((one.name, kind_of(one)) for one in table.c if one.name != "stored")
    return f"COPY {table.name} ({', '.join(name for name, _ in kinds)}) FROM STDIN (FORMAT binary)", kinds
