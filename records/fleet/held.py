"""What the database holds already of the bays of a batch, and what is put beside it: many rows at a time."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from sqlalchemy import (
    ARRAY,
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

from chain.merkle import Frontier
from records.fleet.packing import Kind, Packed, packed
from records.fleet.reading import Bay, Chain, Key
from records.fleet.tables import BAY_KEYS

Place = tuple[str, str, str, int]
"""Site, bay, chain, and the place in it."""


@dataclass(frozen=True, slots=True)
class Reached:
    """How far a chain is walked. tree, last: of its records so far. is_waiting: there are some beyond."""

    tree: Frontier
    last: str
    is_waiting: bool


@dataclass(frozen=True, slots=True)
class Claim:
    """What a chain's first `size` records come to, as a checkpoint says, or the chain `after` that comes
    after them."""

    chain: Chain
    size: int
    root: str
    after: str = ""


@dataclass(frozen=True, slots=True)
class Held:
    """What is there. keys: public keys by bay; places: the SHA-256 of records in places of chains; stored:
    of the documents of revisions; said: what the chains say these are; refused: messages that were refused as
    contradicted, by topic and SHA-256; reached: how far chains are walked; claims: of these chains beyond
    that, and of those that come after another all."""

    keys: dict[Bay, set[str]]
    places: dict[Place, str]
    stored: dict[Key, str]
    said: dict[Key, set[str]]
    refused: dict[tuple[str, str], bytes]
    reached: dict[Chain, Reached]
    claims: list[Claim]


def take_in_turn(connection: Connection, bays: Iterable[Bay]) -> None:
    """Until the end of the transaction nobody else files anything of these bays: what two writers file at
    once of one bay they would else not see of each other. In one order, so that none waits for another that
    waits for it."""
    at_once(connection, _turn(bays))


def look(
    connection: Connection,
    bays: Collection[Bay],
    chains: Collection[Chain],
    places: Collection[Place],
    keys: Collection[Key],
    named: Collection[tuple[str, str]],
) -> Held:
    """What is there of these bays, which nobody else files now. named: topics and hashes of documents that
    may have been refused."""
    of_keys = columns(_runs(keys), _RUNS)
    of_bays, of_chains = columns(bays, ("sites", "bays")), columns(chains, ("sites", "bays", "chains"))
    _, _, known, reached, ahead, after, placed, revisions, recorded, refused = at_once(
        connection,
        _turn(bays),
        (_BY_INDEX, {}),
        (_KEYS, of_bays),
        (_REACHED, of_chains),
        (_AHEAD, of_chains),
        (_AFTER, of_bays),
        (_PLACES, columns(_runs(places), _RUNS)),
        (_REVISIONS, of_keys),
        (_RECORDED, of_keys),
        (_REFUSED, columns(named, ("topics", "hashes"))),
    )
    found = Held(
        defaultdict(set),
        {(a, b, c, d): sha256 for a, b, c, d, sha256 in placed.rows},
        {(a, b, c, d): sha256 for a, b, c, d, sha256 in revisions.rows},
        defaultdict(set),
        {(topic, sha256): payload for topic, sha256, payload in refused.rows},
        {(a, b, c): _reached(*others) for a, b, c, *others in reached.rows},
        [Claim((a, b, c), *others) for a, b, c, *others in (*ahead.rows, *after.rows)],
    )
    for site, bay, key in known.rows:
        found.keys[site, bay].add(key)
    for a, b, c, d, sha256 in recorded.rows:
        found.said[a, b, c, d].add(sha256)
    return found


def tree_of(size: int | None, subtrees: bytes | None) -> Frontier:
    """As a walk is kept; None: there is none, and it begins."""
    whole = subtrees or b""
    return Frontier(size or 0, tuple(whole[n : n + _HASH_BYTES] for n in range(0, len(whole), _HASH_BYTES)))


def _reached(size: int | None, subtrees: bytes | None, last: str | None, top: int | None) -> Reached:
    """size, subtrees, last: of the farthest walk; top: the last place that has a record."""
    return Reached(tree_of(size, subtrees), last or "", top is not None and top >= (size or 0))


def keep_keys(connection: Connection, keys: Mapping[Bay, str], how: str) -> int:
    """From now on these sign for these bays; how many of them did not."""
    rows = [{"site": site, "bay": bay, "key": key, "how": how} for (site, bay), key in keys.items()]
    return put(connection, BAY_KEYS, rows)


_HASH_BYTES = 32
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
        # Each is one of a few, and comes again with the next batch.
        cursors = [driver.execute(sql, said, prepare=True) for sql, said in statements]
    return [Answer(one.fetchall() if one.description else (), one.rowcount) for one in cursors]


def putting(table: Table, rows: Sequence[Mapping[str, Any]]) -> Statement:
    """The statement that puts rows in that are not there. They have the same columns, which go as an array
    each: a fraction of the cost of a statement for each row."""
    if not rows:
        return "SELECT WHERE false", {}
    names = tuple(rows[0])
    return _put(table, names), {
        name: packed(kind_of(table.c[name]), [row[name] for row in rows]) for name in names
    }


def put(connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> int:
    """Put rows in; how many were not there."""
    return at_once(connection, putting(table, rows))[0].number if rows else 0


@cache
def _put(table: Table, names: tuple[str, ...]) -> str:
    arrays = ", ".join(f"%({name})s::{kind_of(table.c[name])}[]" for name in names)
    # The names are ours.
    return (
        f"INSERT INTO {table.name} ({', '.join(names)}) SELECT * FROM unnest({arrays}) ON CONFLICT DO NOTHING"  # noqa: S608 of constants alone
    )


def kind_of(column: Column[Any]) -> Kind:
    """What it holds."""
    if isinstance(column.type, ARRAY):
        return _ARRAYS[type(column.type.item_type)]
    return _KINDS[type(column.type)]


_KINDS: dict[type[TypeEngine[Any]], Kind] = {
    Text: "text", Integer: "integer", Float: "double precision", Boolean: "boolean", Date: "date",
    DateTime: "timestamptz", LargeBinary: "bytea",
}  # fmt: skip


_ARRAYS: dict[type[TypeEngine[Any]], Kind] = {Text: "text[]", Float: "double precision[]"}


def columns(rows: Collection[tuple[Any, ...]], names: Sequence[str]) -> dict[str, Packed]:
    """Rows as one array for each of their columns: of text, those called `numbers` or `lasts` of whole
    numbers."""
    values = zip(*rows, strict=True) if rows else [()] * len(names)
    return {
        name: packed("integer" if name in {"numbers", "lasts"} else "text", said)
        for name, said in zip(names, values, strict=True)
    }


def _runs(rows: Iterable[tuple[str, str, str, int]]) -> list[tuple[str, str, str, int, int]]:
    """The same, those whose numbers follow each other as one, with its first and its last: what lies together
    in an index is looked up at once."""
    numbers = defaultdict(set)
    for site, bay, name, number in rows:
        numbers[site, bay, name].add(number)
    runs = []
    for of, found in numbers.items():
        first = last = min(found)
        for number in () if max(found) - first < len(found) else sorted(found):
            if number > last + 1:
                runs.append((*of, first, last))
                first = number
            last = number
        runs.append((*of, first, max(found)))
    return runs


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
# Statements are put together of our own names alone (S608); what comes from outside goes as a parameter.
_CHAINS = "unnest(%(sites)s::text[], %(bays)s::text[], %(chains)s::text[]) AS w(site, bay, chain)"
_FARTHEST = """
    LEFT JOIN LATERAL (
        SELECT size, subtrees, last FROM fleet_walked AS v
        WHERE (v.site, v.bay, v.chain) = (w.site, w.bay, w.chain) ORDER BY size DESC LIMIT 1
    ) AS l ON true
"""
_REACHED = f"""
    SELECT w.site, w.bay, w.chain, l.size, l.subtrees, l.last, t.place FROM {_CHAINS} {_FARTHEST}
    LEFT JOIN LATERAL (
        SELECT place FROM fleet_chain AS r
        WHERE (r.site, r.bay, r.chain) = (w.site, w.bay, w.chain) ORDER BY place DESC LIMIT 1
    ) AS t ON true
"""  # noqa: S608 of constants alone
_AHEAD = f"""
    SELECT w.site, w.bay, w.chain, c.size, c.root FROM {_CHAINS} {_FARTHEST} JOIN LATERAL (
        SELECT size, root FROM fleet_checkpoints AS p
        WHERE (p.site, p.bay, p.chain) = (w.site, w.bay, w.chain) AND p.size > coalesce(l.size, 0)
    ) AS c ON true
"""  # noqa: S608 of constants alone
_AFTER = (
    "SELECT site, bay, after_chain, after_size, after_root, chain FROM fleet_chain"
    " JOIN unnest(%(sites)s::text[], %(bays)s::text[]) AS w(site, bay) USING (site, bay)"
    " WHERE after_chain IS NOT NULL"
)
_RUNS = ("sites", "bays", "names", "numbers", "lasts")
_OF_RUNS = (
    "unnest(%(sites)s::text[], %(bays)s::text[], %(names)s::text[], %(numbers)s::integer[],"
    " %(lasts)s::integer[]) AS w(site, bay, name, first, last)"
)


def _by_runs(table: str, of: str, number: str, hashed: str) -> str:
    """Rows of each run of numbers. Each is looked up by itself, in the index that has it in order (ORDER BY):
    else the planner may join all that there is with what is asked for, and sort it, which was a fifth of the
    server's time for a batch."""
    return f"""
        SELECT w.site, w.bay, w.name, t.{number}, t.{hashed} FROM {_OF_RUNS} CROSS JOIN LATERAL (
            SELECT {number}, {hashed} FROM {table} AS r
            WHERE (r.site, r.bay, r.{of}) = (w.site, w.bay, w.name)
            AND r.{number} BETWEEN w.first AND w.last ORDER BY {number}
        ) AS t
    """  # noqa: S608 of constants alone


_PLACES = _by_runs("fleet_chain", "chain", "place", "sha256")
_REVISIONS = _by_runs("fleet_revisions", "inspection", "revision", "sha256")
_RECORDED = _by_runs("fleet_chain", "inspection", "revision", "document_sha256")
_REFUSED = (
    "SELECT topic, sha256, payload FROM fleet_refused"
    " JOIN unnest(%(topics)s::text[], %(hashes)s::text[]) AS w(topic, sha256) USING (topic, sha256)"
    " WHERE reason = 'contradicted'"
)
_BY_INDEX = """
    SELECT set_config('enable_seqscan', 'off', true),
        set_config('plan_cache_mode', 'force_generic_plan', true)
"""
"""A plan is kept for the session: one that was made while a table was small would read all of it for each row
that is looked up, until the server looks at it again. And it is kept from the first time on: they are the
same for however many rows."""
