"""What the database holds already of the bays of a batch, and what is put beside it: many rows at a time."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import cache
from typing import Any

from sqlalchemy import Column, Connection, Table, text
from sqlalchemy.dialects import postgresql

from records.fleet.reading import Bay, Key
from records.fleet.tables import BAY_KEYS

Place = tuple[str, str, str, int]
"""Site, bay, chain, and the place in it."""


def take_in_turn(connection: Connection, bays: Iterable[Bay]) -> None:
    """Until the end of the transaction nobody else files anything of these bays: what two writers file at
    once of one bay they would else not see of each other. In one order, so that none waits for another that
    waits for it."""
    numbers = sorted({_number(bay) for bay in bays})
    connection.execute(_IN_TURN, {"numbers": numbers})


_IN_TURN = text(
    "SELECT pg_advisory_xact_lock(n)"
    " FROM (SELECT unnest(CAST(:numbers AS bigint[])) AS n ORDER BY 1) AS ordered"
)


def _number(bay: Bay) -> int:
    said = hashlib.sha256("/".join(("fleet", *bay)).encode()).digest()
    return int.from_bytes(said[:8], "big", signed=True)


def known_keys(connection: Connection, bays: Collection[Bay]) -> dict[Bay, set[str]]:
    """Public keys by bay."""
    found: dict[Bay, set[str]] = defaultdict(set)
    query = text(
        "SELECT site, bay, key FROM fleet_bay_keys"
        " JOIN unnest(CAST(:sites AS text[]), CAST(:bays AS text[])) AS w(site, bay) USING (site, bay)"
    )
    for site, bay, key in connection.execute(query, columns(bays, ("sites", "bays"))):
        found[site, bay].add(key)
    return found


def keep_key(connection: Connection, bay: Bay, key: str, how: str) -> bool:
    """From now on this key signs for that bay; False where it did."""
    row = {"site": bay[0], "bay": bay[1], "key": key, "how": how}
    return put(connection, BAY_KEYS, [row]) == 1


_OF = """
    JOIN unnest(CAST(:sites AS text[]), CAST(:bays AS text[]), CAST(:names AS text[]),
        CAST(:numbers AS integer[])) AS w(site, bay, name, number)
    ON (t.site, t.bay) = (w.site, w.bay)
"""
_NAMES = ("sites", "bays", "names", "numbers")


def revisions(connection: Connection, keys: Collection[Key]) -> dict[Key, str]:
    """The SHA-256 of the documents of these."""
    query = text(
        f"SELECT t.site, t.bay, t.inspection, t.revision, t.sha256 FROM fleet_revisions AS t {_OF}"  # noqa: S608
        " AND (t.inspection, t.revision) = (w.name, w.number)"
    )
    return {(a, b, c, d): sha256 for a, b, c, d, sha256 in _all(connection, query, keys)}


def recorded(connection: Connection, keys: Collection[Key]) -> dict[Key, set[str]]:
    """What the chains say of the documents of these."""
    query = text(
        f"SELECT t.site, t.bay, t.inspection, t.revision, t.document_sha256 FROM fleet_chain AS t {_OF}"  # noqa: S608
        " AND (t.inspection, t.revision) = (w.name, w.number)"
    )
    found: dict[Key, set[str]] = defaultdict(set)
    for a, b, c, d, sha256 in _all(connection, query, keys):
        found[a, b, c, d].add(sha256)
    return found


def placed(connection: Connection, places: Collection[Place]) -> dict[Place, str]:
    """The SHA-256 of the records in these places."""
    query = text(
        f"SELECT t.site, t.bay, t.chain, t.place, t.sha256 FROM fleet_chain AS t {_OF}"  # noqa: S608
        " AND (t.chain, t.place) = (w.name, w.number)"
    )
    return {(a, b, c, d): sha256 for a, b, c, d, sha256 in _all(connection, query, places)}


def put(connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> int:
    """Those that are not there; how many that were. The rows have the same columns, which go as a list each,
    in binary: a fraction of the cost of a statement for each row."""
    if not rows:
        return 0
    lists = {name: [row[name] for row in rows] for name in rows[0]}
    # Of a list of nothing the driver could not tell the type; what is left out is NULL.
    said = {name: values for name, values in lists.items() if any(value is not None for value in values)}
    return connection.exec_driver_sql(_put(table, tuple(said)), said).rowcount


@cache
def _put(table: Table, names: tuple[str, ...]) -> str:
    lists = ", ".join(f"%({name})b::{_kind(table.c[name])}[]" for name in names)
    # The names are ours.
    return (
        f"INSERT INTO {table.name} ({', '.join(names)}) SELECT * FROM unnest({lists}) ON CONFLICT DO NOTHING"  # noqa: S608
    )


def _kind(column: Column[Any]) -> str:
    return str(column.type.compile(dialect=_POSTGRESQL))


_POSTGRESQL = postgresql.dialect()  # type: ignore[no-untyped-call]


def _all(connection: Connection, query: Any, wanted: Collection[tuple[Any, ...]]) -> Sequence[Any]:
    return connection.execute(query, columns(wanted, _NAMES)).all() if wanted else []


def columns(rows: Collection[tuple[Any, ...]], names: Sequence[str]) -> dict[str, list[Any]]:
    """Rows as one list for each of their columns."""
    return {name: [row[n] for row in rows] for n, name in enumerate(names)}
