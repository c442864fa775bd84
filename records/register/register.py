"""The register in the database of records: read whole, written all or nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Connection, Table, bindparam, delete, insert, select, text, update

from records.database import Database
from records.register.columns import TABLES, Row, TableName, key_of
from records.register.merging import Book, Incoming, Merged, Rows, merged
from records.tables import DAMPERS, ENGINES, EVENTS, FITTINGS, GAUGES, READINGS

_TABLES: dict[TableName, Table] = {
    "engines": ENGINES,
    "dampers": DAMPERS,
    "gauges": GAUGES,
    "fittings": FITTINGS,
    "readings": READINGS,
    "events": EVENTS,
}

ONE_AT_A_TIME = 0x52_54_52_47
"""PostgreSQL's number for the lock that whoever changes the register holds ("RTRG")."""


class Register(Database):
    """Engines, dampers, gauges, fittings, readings of counters, events."""

    def load(self) -> Book:
        """All of it."""
        with self.connected() as connection:
            return _load(connection)

    def put(
        self, table: TableName, rows: Sequence[Incoming], triggers: Iterable[str] = (), *, whole: bool = False
    ) -> Merged:
        """Put rows into a table, as `merged` says; nothing is written where one of them is wrong."""
        with self.connected() as connection:
            _alone(connection)
            change = merged(_load(connection), table, rows, triggers, whole=whole)
            if not change.wrong:
                _write(connection, table, change)
        return change


def dampers_of(database: Database) -> Rows:
    """The register's dampers alone, by their serials."""
    with database.connected() as connection:
        return _rows(connection, "dampers", DAMPERS)


def _alone(connection: Connection) -> None:
    """Nobody else changes the register until this transaction ends."""
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    elif connection.dialect.name == "postgresql":
        connection.execute(text(f"SELECT pg_advisory_xact_lock({ONE_AT_A_TIME})"))


def _load(connection: Connection) -> Book:
    return {name: _rows(connection, name, table) for name, table in _TABLES.items()}


def _rows(connection: Connection, name: TableName, table: Table) -> Rows:
    found = connection.execute(select(table).order_by(*table.primary_key)).mappings()
    return {key_of(name, row): row for row in map(dict, found)}


def _write(connection: Connection, name: TableName, change: Merged) -> None:
    table = _TABLES[name]
    keys = [column.name for column in TABLES[name] if column.is_key]
    others = [column.name for column in TABLES[name] if not column.is_key]
    which = [table.c[key] == bindparam(f"key_{key}") for key in keys]

    def named(row: Row) -> Row:
        return {f"key_{key}": row[key] for key in keys} | {other: row[other] for other in others}

    if change.removed:
        gone = [{f"key_{key}": row[key] for key in keys} for row in change.removed]
        connection.execute(delete(table).where(*which), gone)
    if change.changed:
        new: dict[str, Any] = {other: bindparam(other) for other in others}
        connection.execute(update(table).where(*which).values(new), [named(row) for row in change.changed])
    if change.new:
        connection.execute(insert(table), list(change.new))
