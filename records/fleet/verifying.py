"""Bays' chains walked as their records come, in whatever order they do.

A chain is walked as far as its records are there without a gap: each must name the one before it, and the
first must begin it. What was walked is held against every checkpoint and against the chains that come after;
where they differ the place is broken, and the walk of that chain ends there. A gap is no break: it may fill.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, text

from chain.breaks import Break, What
from chain.errors import AlteredError
from chain.merkle import Frontier
from chain.signing import digest, read_record
from contract.chain import ChainBegun, ChainResult
from records.fleet.held import columns, put
from records.fleet.tables import BREAKS, WALKED

KEPT_IN = "fleet's records"
AT_ONCE = 500
"""Records read at a time."""
_HASH_BYTES = 32

Chain = tuple[str, str, str]
"""Site, bay, chain."""


@dataclass(slots=True)
class Walk:
    """How far one chain is walked. rows: what of it is new."""

    chain: Chain
    tree: Frontier
    last: str
    rows: list[dict[str, Any]] = field(default_factory=list)
    broken: Break | None = None

    def step(self, record: bytes) -> bool:
        """One more record; False where it breaks the chain."""
        size, (site, bay, name) = self.tree.size, self.chain
        said = _read(record)
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
    connection: Connection, chains: Collection[Chain], told: Collection[tuple[str, str, str, int]]
) -> list[Break]:
    """Walk these chains on, as far as they can be, and say what is broken that was not known; within the
    transaction that put records of theirs in. told: site, bay, chain and size of checkpoints that came."""
    walks = _walks(connection, chains)
    rows = [row for walk in walks for row in walk.rows]
    put(connection, WALKED, rows)
    broken = [walk.broken for walk in walks if walk.broken is not None]
    sizes = {(row["site"], row["bay"], row["chain"], row["size"]) for row in rows} | set(told)
    broken += _against_checkpoints(connection, sizes)
    broken += _against_later(connection, {chain[:2] for chain in chains})
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


def _walks(connection: Connection, chains: Collection[Chain]) -> list[Walk]:
    walks = {chain: Walk(chain, Frontier(), "") for chain in sorted(chains)}
    if not walks:
        return []
    for *chain, size, subtrees, last in connection.execute(_WALKED, columns(walks, _CHAIN)):
        walk = walks[chain[0], chain[1], chain[2]]
        roots = tuple(subtrees[n : n + _HASH_BYTES] for n in range(0, len(subtrees), _HASH_BYTES))
        walk.tree, walk.last = Frontier(size, roots), last
    left = dict(walks)
    while left:
        wanted = [(*chain, walk.tree.size) for chain, walk in left.items()]
        for site, bay, name, place, record in connection.execute(_NEXT, columns(wanted, _PLACE)):
            walk = left[site, bay, name]
            if place == walk.tree.size and walk.broken is None:
                walk.step(bytes(record))
        began = {(site, bay, name): size for site, bay, name, size in wanted}
        left = {
            chain: walk
            for chain, walk in left.items()
            if walk.broken is None and walk.tree.size == began[chain] + AT_ONCE
        }
    return list(walks.values())


def _against_checkpoints(
    connection: Connection, sizes: Collection[tuple[str, str, str, int]]
) -> Iterator[Break]:
    found = connection.execute(_CONTRADICTED, columns(sorted(sizes), _PLACE)) if sizes else ()
    for site, bay, name, size in found:
        why = f"a checkpoint of {size} records does not hold: one of them is another than it was then"
        yield _break((site, bay, name), "checkpoint", size - 1, why, None)


def _against_later(connection: Connection, bays: Collection[tuple[str, str]]) -> Iterator[Break]:
    """What chains say of those that they come after."""
    found = connection.execute(_LATER, columns(sorted(bays), _BAY)) if bays else ()
    for site, bay, name, later, size in found:
        why = f"chain {later} comes after other records than those that are there"
        yield _break((site, bay, name), "altered-record", size - 1, why, None)


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
_WALKED = text(
    "SELECT site, bay, chain, size, subtrees, last"
    " FROM unnest(CAST(:sites AS text[]), CAST(:bays AS text[]), CAST(:chains AS text[]))"
    " AS w(site, bay, chain)"
    " CROSS JOIN LATERAL (SELECT size, subtrees, last FROM fleet_walked AS t"
    " WHERE (t.site, t.bay, t.chain) = (w.site, w.bay, w.chain) ORDER BY size DESC LIMIT 1) AS latest"
)
_WANTED = """
    unnest(CAST(:sites AS text[]), CAST(:bays AS text[]), CAST(:chains AS text[]),
        CAST(:numbers AS integer[])) AS w(site, bay, chain, number)
"""
_NEXT = text(
    f"SELECT site, bay, chain, place, record FROM fleet_chain JOIN {_WANTED} USING (site, bay, chain)"  # noqa: S608
    f" WHERE place >= number AND place < number + {AT_ONCE} ORDER BY site, bay, chain, place"
)
_CONTRADICTED = text(
    f"SELECT site, bay, chain, size FROM fleet_checkpoints AS c JOIN {_WANTED} USING (site, bay, chain)"  # noqa: S608
    " JOIN fleet_walked AS t USING (site, bay, chain, size) WHERE size = number AND c.root <> t.root"
)
_LATER = text(
    "SELECT c.site, c.bay, c.after_chain, c.chain, c.after_size FROM fleet_chain AS c"
    " JOIN unnest(CAST(:sites AS text[]), CAST(:bays AS text[])) AS w(site, bay) USING (site, bay)"
    " JOIN fleet_walked AS t"
    " ON (t.site, t.bay, t.chain, t.size) = (c.site, c.bay, c.after_chain, c.after_size)"
    " WHERE c.after_chain IS NOT NULL AND c.after_root <> t.root"
)
