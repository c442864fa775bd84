"""What the database holds already of the bays of a batch, and what is put beside it: many rows at a time."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from sqlalchemy import (
    Boolean,
    Column,
    Connection,
    Date,
    DateTime,
    Float,
    Integer,
    LargeBinary,
    Table,
    Text,
)
from sqlalchemy.types import TypeEngine

from records.fleet.packing import Kind, Packed, packed
from records.fleet.reading import Bay, Key
from records.fleet.tables import BAY_KEYS

Place = tuple[str, str, str, int]
"""Site, bay, chain, and the place in it."""


@dataclass(frozen=True, slots=True)
class Held:
    """What is there. keys: public keys by bay; places: the SHA-256 of records in places of chains; stored:
    of the documents of revisions; said: what the chains say these are; refused: messages that were refused as
    contradicted, by topic and SHA-256."""

    keys: dict[Bay, set[str]]
    places: dict[Place, str]
    stored: dict[Key, str]
    said: dict[Key, set[str]]
    refused: dict[tuple[str, str], bytes]


def take_in_turn(connection: Connection, bays: Iterable[Bay]) -> None:
    """Until the end of the transaction nobody else files anything of these bays: what two writers file at
    once of one bay they would else not see of each other. In one order, so that none waits for another that
    waits for it."""
    at_once(connection, _turn(bays))


def look(
    connection: Connection,
    bays: Collection[Bay],
    places: Collection[Place],
    keys: Collection[Key],
    named: Collection[tuple[str, str]],
) -> Held:
    """What is there of these bays, which nobody else files now. named: topics and hashes of documents that
    may have been refused."""
    _, known, placed, revisions, recorded, refused = at_once(
        connection,
        _turn(bays),
        (_KEYS, columns(bays, ("sites", "bays"))),
        (_PLACES, columns(places, _NAMES)),
        (_REVISIONS, columns(keys, _NAMES)),
        (_RECORDED, columns(keys, _NAMES)),
        (_REFUSED, columns(named, ("topics", "hashes"))),
    )
    found = Held(
        defaultdict(set),
        {(a, b, c, d): sha256 for a, b, c, d, sha256 in placed.rows},
        {(a, b, c, d): sha256 for a, b, c, d, sha256 in revisions.rows},
        defaultdict(set),
        {(topic, sha256): payload for topic, sha256, payload in refused.rows},
    )
    for site, bay, key in known.rows:
        found.keys[site, bay].add(key)
    for a, b, c, d, sha256 in recorded.rows:
        found.said[a, b, c, d].add(sha256)
    return found


def keep_key(connection: Connection, bay: Bay, key: str, how: str) -> bool:
    """From now on this key signs for that bay; False where it did."""
    row = {"site": bay[0], "bay": bay[1], "key": key, "how": how}
    return put(connection, BAY_KEYS, [row]) == 1


Statement = tuple[str, Mapping[str, Any]]


@dataclass(frozen=True, slots=True)
class Answer:
    """What a statement gave. number: of rows, given or put in."""

    rows: Sequence[Any]
    number: int


def at_once(connection: Connection, *statements: Statement) -> list[Answer]:
    """Statements in this order, as the driver has them, with one wait for all of them."""
    driver: Any = connection.connection.driver_connection
    with driver.pipeline():
        cursors = [driver.execute(sql, said) for sql, said in statements]
    return [Answer(one.fetchall() if one.description else (), one.rowcount) for one in cursors]


def putting(table: Table, rows: Sequence[Mapping[str, Any]]) -> Statement:
    """The statement that puts rows in that are not there. They have the same columns, which go as an array
    each: a fraction of the cost of a statement for each row."""
    if not rows:
        return "SELECT WHERE false", {}
    names = tuple(rows[0])
    return _put(table, names), packed_columns([table.c[name] for name in names], rows)


def put(connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> int:
    """Put rows in; how many were not there."""
    return at_once(connection, putting(table, rows))[0].number if rows else 0


def packed_columns(
    of: Sequence[Column[Any]], rows: Sequence[Mapping[str, Any]], before: str = ""
) -> dict[str, Packed]:
    """Rows as an array for each of these columns, by its name with another before it."""
    return {f"{before}{one.name}": packed(_kind(one), [row[one.name] for row in rows]) for one in of}


def unnested(of: Sequence[Column[Any]], before: str = "") -> str:
    """The arrays of `packed_columns` as a statement has them."""
    return ", ".join(f"%({before}{one.name})s::{_kind(one)}[]" for one in of)


@cache
def _put(table: Table, names: tuple[str, ...]) -> str:
    arrays = unnested([table.c[name] for name in names])
    # The names are ours.
    return (
        f"INSERT INTO {table.name} ({', '.join(names)}) SELECT * FROM unnest({arrays}) ON CONFLICT DO NOTHING"  # noqa: S608
    )


def _kind(column: Column[Any]) -> Kind:
    return _KINDS[type(column.type)]


_KINDS: dict[type[TypeEngine[Any]], Kind] = {
    Text: "text", Integer: "integer", Float: "double precision", Boolean: "boolean", Date: "date",
    DateTime: "timestamptz", LargeBinary: "bytea",
}  # fmt: skip


def columns(rows: Collection[tuple[Any, ...]], names: Sequence[str]) -> dict[str, Packed]:
    """Rows as one array for each of their columns: of text, those called `numbers` of whole numbers."""
    return {
        name: packed("integer" if name == "numbers" else "text", [row[n] for row in rows])
        for n, name in enumerate(names)
    }


def _turn(bays: Iterable[Bay]) -> Statement:
    return _IN_TURN, {"numbers": packed("bigint", sorted({_number(bay) for bay in bays}))}


def _number(bay: Bay) -> int:
    said = hashlib.sha256("/".join(("fleet", *bay)).encode()).digest()
    return int.from_bytes(said[:8], "big", signed=True)


_IN_TURN = (
    "SELECT pg_advisory_xact_lock(n) FROM (SELECT unnest(%(numbers)s::bigint[]) AS n ORDER BY 1) AS ordered"
)
_KEYS = (
    "SELECT site, bay, key FROM fleet_bay_keys"
    " JOIN unnest(%(sites)s::text[], %(bays)s::text[]) AS w(site, bay) USING (site, bay)"
)
_NAMES = ("sites", "bays", "names", "numbers")
# Statements are put together of our own names alone (S608); what comes from outside goes as a parameter.
_OF = """
    JOIN unnest(%(sites)s::text[], %(bays)s::text[], %(names)s::text[], %(numbers)s::integer[])
    AS w(site, bay, name, number) ON (t.site, t.bay) = (w.site, w.bay)
"""
_PLACES = (
    f"SELECT t.site, t.bay, t.chain, t.place, t.sha256 FROM fleet_chain AS t {_OF}"  # noqa: S608
    " AND (t.chain, t.place) = (w.name, w.number)"
)
_REVISIONS = (
    f"SELECT t.site, t.bay, t.inspection, t.revision, t.sha256 FROM fleet_revisions AS t {_OF}"  # noqa: S608
    " AND (t.inspection, t.revision) = (w.name, w.number)"
)
_REFUSED = (
    "SELECT topic, sha256, payload FROM fleet_refused"
    " JOIN unnest(%(topics)s::text[], %(hashes)s::text[]) AS w(topic, sha256) USING (topic, sha256)"
    " WHERE reason = 'contradicted'"
)
_RECORDED = (
    f"SELECT t.site, t.bay, t.inspection, t.revision, t.document_sha256 FROM fleet_chain AS t {_OF}"  # noqa: S608
    " AND (t.inspection, t.revision) = (w.name, w.number)"
)
