"""Bays' chains walked as their records come, in whatever order they do.

A chain is walked as far as its records are there without a gap: each must name the one before it, and the
first must begin it. What was walked is held against every checkpoint and against the chains that come after;
where they differ the place is broken, and the walk of that chain ends there. A gap is no break: it may fill.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection

from chain.breaks import Break, What
from chain.errors import AlteredError
from chain.merkle import Frontier
from chain.signing import digest, read_record
from contract.chain import ChainBegun, ChainResult
from records.fleet.held import at_once, columns, put, putting
from records.fleet.packing import Packed, packed
from records.fleet.tables import BREAKS, WALKED

KEPT_IN = "fleet's records"
AT_ONCE = 500
"""Records read at a time."""
_HASH_BYTES = 32

Chain = tuple[str, str, str]
"""Site, bay, chain."""
Good = Mapping[bytes, ChainBegun | ChainResult]
"""Records, byte for byte, whose signature was found to hold just now: it need not be found again."""


@dataclass(slots=True)
class Walk:
    """How far one chain is walked. rows: what of it is new."""

    chain: Chain
    tree: Frontier
    last: str
    rows: list[dict[str, Any]] = field(default_factory=list)
    broken: Break | None = None

    def step(self, record: bytes, said: ChainBegun | ChainResult | None) -> bool:
        """One more record; False where it breaks the chain. said: None where its signature does not hold."""
        size, (site, bay, name) = self.tree.size, self.chain
        if said is None:
            self._break("altered-record", size, "its signature does not hold any more", None)
        elif (size == 0) != isinstance(said, ChainBegun):
            why = "a chain begins here, within another" if size else "no chain begins with such a record"
            self._break("altered-record", size, why, said)
        elif said.previous != self.last:
            # The place before is the one that is not what the bay issued, or this one; both are signed.
            self._break("altered-record", max(size - 1, 0), "the next one names another in this place", said)
        if self.broken is not None:
            return False
        self.tree, self.last = self.tree.grown(record), digest(record)
        self.rows.append(
            {
                "site": site, "bay": bay, "chain": name, "size": self.tree.size,
                "root": self.tree.root().hex(), "subtrees": b"".join(self.tree.roots), "last": self.last,
            }
        )  # fmt: skip
        return True

    def _break(self, what: What, place: int, why: str, said: ChainBegun | ChainResult | None) -> None:
        self.broken = _break(self.chain, what, place, why, said)


def verify(
    connection: Connection,
    chains: Collection[Chain],
    told: Collection[tuple[str, str, str, int]],
    good: Good,
) -> list[Break]:
    """Walk these chains on, as far as they can be, and say what is broken that was not known; within the
    transaction that put records of theirs in. told: site, bay, chain and size of checkpoints that came."""
    walks = _walks(connection, chains, good)
    rows = [row for walk in walks for row in walk.rows]
    broken = [walk.broken for walk in walks if walk.broken is not None]
    sizes = {(row["site"], row["bay"], row["chain"], row["size"]) for row in rows} | set(told)
    _, contradicted, later = at_once(
        connection,
        putting(WALKED, rows),
        (_CONTRADICTED, columns(sorted(sizes), _PLACE)),
        (_LATER, columns(sorted({chain[:2] for chain in chains}), _BAY)),
    )
    for site, bay, name, size in contradicted.rows:
        why = f"a checkpoint of {size} records does not hold: one of them is another than it was then"
        broken.append(_break((site, bay, name), "checkpoint", size - 1, why, None))
    for site, bay, name, after, size in later.rows:
        why = f"chain {after} comes after other records than those that are there"
        broken.append(_break((site, bay, name), "altered-record", size - 1, why, None))
    return put_breaks(connection, broken)


def put_breaks(connection: Connection, broken: Collection[Break]) -> list[Break]:
    """Those that were not known."""
    new = []
    for one in broken:
        row = {
            "site": one.site, "bay": one.bay, "chain": one.chain, "place": one.index, "what": one.what,
            "why": one.why, "inspection": one.inspection, "revision": one.revision,
        }  # fmt: skip
        if put(connection, BREAKS, [row]):
            new.append(one)
    return new


def _walks(connection: Connection, chains: Collection[Chain], good: Good) -> list[Walk]:
    walks = {chain: Walk(chain, Frontier(), "") for chain in sorted(chains)}
    left = dict(walks)
    while left:
        (found,) = at_once(connection, (_NEXT, columns(left, _CHAIN) | _sizes(left)))
        began = {chain: walk.tree.size for chain, walk in left.items()}
        for site, bay, name, size, subtrees, last, place, record in found.rows:
            walk = left[site, bay, name]
            if size is not None and walk.tree.size == 0:
                roots = tuple(subtrees[n : n + _HASH_BYTES] for n in range(0, len(subtrees), _HASH_BYTES))
                walk.tree, walk.last, began[site, bay, name] = Frontier(size, roots), last, size
            if place == walk.tree.size and walk.broken is None:
                walk.step(bytes(record), good.get(bytes(record)) or _read(bytes(record)))
        left = {
            chain: walk
            for chain, walk in left.items()
            if walk.broken is None and walk.tree.size == began[chain] + AT_ONCE
        }
    return list(walks.values())


def _sizes(walks: Mapping[Chain, Walk]) -> dict[str, Packed]:
    """How far they are; None: as the database has it."""
    return {"numbers": packed("integer", [walk.tree.size or None for walk in walks.values()])}


def _break(chain: Chain, what: What, place: int, why: str, said: ChainBegun | ChainResult | None) -> Break:
    inspection, revision = getattr(said, "inspection", None), getattr(said, "revision", None)
    return Break(what, KEPT_IN, *chain, place, why, inspection, revision)


def _read(record: bytes) -> ChainBegun | ChainResult | None:
    """It was good when it came; somebody may have spoilt it since."""
    try:
        return read_record(record)
    except AlteredError:
        return None


_BAY, _CHAIN = ("sites", "bays"), ("sites", "bays", "chains")
_PLACE = (*_CHAIN, "numbers")
# Statements are put together of our own names alone (S608); what comes from outside goes as a parameter.
_WANTED = """
    unnest(%(sites)s::text[], %(bays)s::text[], %(chains)s::text[], %(numbers)s::integer[])
    AS w(site, bay, chain, number)
"""
_NEXT = f"""
    SELECT w.site, w.bay, w.chain, l.size, l.subtrees, l.last, t.place, t.record FROM {_WANTED}
    LEFT JOIN LATERAL (
        SELECT size, subtrees, last FROM fleet_walked AS v
        WHERE (v.site, v.bay, v.chain) = (w.site, w.bay, w.chain) ORDER BY size DESC LIMIT 1
    ) AS l ON w.number IS NULL
    LEFT JOIN LATERAL (
        SELECT place, record FROM fleet_chain AS r
        WHERE (r.site, r.bay, r.chain) = (w.site, w.bay, w.chain)
        AND r.place >= coalesce(w.number, l.size, 0)
        AND r.place < coalesce(w.number, l.size, 0) + {AT_ONCE}
    ) AS t ON true
    ORDER BY w.site, w.bay, w.chain, t.place
"""  # noqa: S608
_CONTRADICTED = (
    f"SELECT site, bay, chain, size FROM fleet_checkpoints AS c JOIN {_WANTED} USING (site, bay, chain)"  # noqa: S608
    " JOIN fleet_walked AS t USING (site, bay, chain, size) WHERE size = number AND c.root <> t.root"
)
_LATER = (
    "SELECT c.site, c.bay, c.after_chain, c.chain, c.after_size FROM fleet_chain AS c"
    " JOIN unnest(%(sites)s::text[], %(bays)s::text[]) AS w(site, bay) USING (site, bay)"
    " JOIN fleet_walked AS t"
    " ON (t.site, t.bay, t.chain, t.size) = (c.site, c.bay, c.after_chain, c.after_size)"
    " WHERE c.after_chain IS NOT NULL AND c.after_root <> t.root"
)
