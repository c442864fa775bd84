"""Rows that are known not to be there into the tables that hold them, by COPY: the least that a row costs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any, TypeVar

from sqlalchemy import Connection, Table

from records.fleet import rows, tables
from records.fleet.held import kind_of
from records.fleet.packing import Column, Memo, Packing
from records.fleet.reading import Document, Record
from records.fleet.rows import chain_row, result_row, revision_row

AT_ONCE = 100
"""Rows that are packed and sent, while the server takes those before."""
Item = TypeVar("Item")


def store(
    connection: Connection, documents: Sequence[tuple[Document, date]], meanwhile: Callable[[], None]
) -> None:
    """Results, each with its month. meanwhile: is called once, while the server takes the last of them."""
    memo = Memo()
    _copy(connection, _REVISIONS, documents, lambda one: revision_row(*one), memo)
    _copy(connection, _RESULTS, documents, lambda one: result_row(*one), memo, meanwhile)


def store_records(connection: Connection, records: Sequence[Record]) -> None:
    """Records of chains."""
    _copy(connection, _CHAIN, records, chain_row, Memo())


def _copy(
    connection: Connection,
    to: Copied,
    items: Sequence[Item],
    row: Callable[[Item], rows.Values],
    memo: Memo,
    meanwhile: Callable[[], None] = lambda: None,
) -> None:
    if not items:
        meanwhile()
        return
    statement, columns = to
    packing = Packing(columns, memo)
    driver: Any = connection.connection.driver_connection
    with driver.cursor() as cursor, cursor.copy(statement) as copy:
        copy.write(packing.BEGIN)
        for n in range(0, len(items), AT_ONCE):
            copy.write(packing.rows([row(one) for one in items[n : n + AT_ONCE]]))
        copy.write(packing.END)
        meanwhile()


Copied = tuple[str, list[Column]]
"""The statement, and what a row of it holds."""


def _copied(table: Table, columns: rows.Columns) -> Copied:
    def column(one: str | tuple[str, ...]) -> Column:
        if isinstance(one, tuple):
            return tuple(kind_of(table.c[name]) for name in one)
        return "text once" if one in rows.ONCE else kind_of(table.c[one])

    names = ", ".join(name for one in columns for name in ([one] if isinstance(one, str) else one))
    return f"COPY {table.name} ({names}) FROM STDIN (FORMAT binary)", [column(one) for one in columns]


_REVISIONS = _copied(tables.REVISIONS, rows.REVISIONS)
_RESULTS = _copied(tables.RESULTS, rows.RESULTS)
_CHAIN = _copied(tables.CHAIN, rows.CHAIN)
