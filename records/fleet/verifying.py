"""Bays' chains walked as their records come, in whatever order they do.

A chain is walked as far as its records are there without a gap: each must name the one before it, and the
first must begin it. What was walked is held against every checkpoint and against the chains that come after;
where they differ the place is broken, and the walk of that chain ends there. A gap is no break: it may fill.

Where a walk ended is kept, and every so many records of it: what the first `size` records come to is found
from there again, for a checkpoint that comes late.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from chain.breaks import Break, What
from chain.errors import AlteredError
from chain.merkle import Frontier
from chain.signing import digest, read_record
from contract.chain import ChainBegun, ChainResult
from records.fleet.held import Claim, Reached, at_once, columns, put, tree_of
from records.fleet.packing import packed
from records.fleet.reading import Chain, Named, Record
from records.fleet.tables import BREAKS

KEPT_IN = "fleet's records"
AT_ONCE = 500
"""Records read at a time."""
EVERY = 64
"""Records between two places of a walk that are kept, where it goes on."""

Said = ChainBegun | ChainResult | Named
"""By a record."""
Size = tuple[Chain, int]
"""The first so many records of a chain."""


class Walk:
    """How far one chain is walked, from where it began. wanted: at which sizes its root is asked for; roots:
    these, as far as it went; rows: of `fleet_walked`."""

    def __init__(self, chain: Chain, began: Reached, wanted: Collection[int]) -> None:
        self.chain, self.began, self.wanted = chain, began, wanted
        self.tree, self.last = began.tree, began.last
        self.roots: dict[int, str] = {}
        self.rows: list[dict[str, Any]] = []
        self.broken: Break | None = None

    def step(self, record: bytes, sha256: str, said: Said | None) -> None:
        """One more record. said: None where its signature does not hold."""
        size = self.tree.size
        if said is None:
            self._break("altered-record", size, "its signature does not hold any more", None)
        elif (size == 0) != isinstance(said, ChainBegun):
            why = "a chain begins here, within another" if size else "no chain begins with such a record"
            self._break("altered-record", size, why, said)
        elif said.previous != self.last:
            # The place before is the one that is not what the bay issued, or this one; both are signed.
            self._break("altered-record", max(size - 1, 0), "the next one names another in this place", said)
        else:
            self.tree, self.last = self.tree.grown(record), sha256
            if size + 1 in self.wanted:
                self.roots[size + 1] = self.tree.root().hex()
            if (size + 1) % EVERY == 0:
                self._keep()

    def end(self) -> None:
        """Keep where it ended, if it came on and that is not kept yet."""
        if self.tree.size > self.began.tree.size and self.tree.size % EVERY:
            self._keep()

    def _keep(self) -> None:
        site, bay, name = self.chain
        self.rows.append(
            {
                "site": site, "bay": bay, "chain": name, "size": self.tree.size,
                "root": self.tree.root().hex(), "subtrees": b"".join(self.tree.roots), "last": self.last,
            }
        )  # fmt: skip

    def _break(self, what: What, place: int, why: str, said: Said | None) -> None:
        self.broken = broken_at(self.chain, what, place, why, said)


@dataclass(frozen=True, slots=True)
class Walked:
    """roots: of the sizes that were asked for, as far as the chains are walked; rows: of `fleet_walked`, that
    are new; broken: where walks ended."""

    roots: dict[Size, str]
    rows: list[dict[str, Any]]
    broken: list[Break]


class Walks:
    """These chains walked on with their new records, as far as they can be, and the roots of these sizes."""

    def __init__(
        self, reached: Mapping[Chain, Reached], records: Iterable[Record], wanted: Iterable[Size]
    ) -> None:
        self._reached, self._records, self._wanted = reached, records, wanted
        self._walks: dict[Chain, Walk] = {}
        self._waiting: dict[Chain, Walk] = {}
        self._good: dict[bytes, Said] = {}

    def begin(self) -> None:
        """With what came now; needs no database."""
        sizes: defaultdict[Chain, set[int]] = defaultdict(set)
        for chain, size in self._wanted:
            sizes[chain].add(size)
        walks = {chain: Walk(chain, began, sizes[chain]) for chain, began in self._reached.items()}
        for one in sorted(self._records, key=lambda one: one.said.index):
            on = walks[one.chain]
            if on.began.is_waiting:
                self._waiting[on.chain] = on
                self._good[one.payload] = one.said
            elif one.said.index == on.tree.size and on.broken is None:
                on.step(one.payload, one.sha256, one.said)
        self._walks = walks

    def end(self, connection: Connection) -> Walked:
        """With what came before, within the transaction that put the records in."""
        _read_on(connection, self._waiting, self._good)
        walks = self._walks.values()
        roots = _earlier(connection, walks)
        for on in walks:
            on.end()
            roots |= {(on.chain, size): root for size, root in on.roots.items()}
        return Walked(
            roots,
            [row for on in walks for row in on.rows],
            [on.broken for on in walks if on.broken is not None],
        )


def _read_on(connection: Connection, walks: Mapping[Chain, Walk], good: Mapping[bytes, Said]) -> None:
    """Of chains that have records beyond a gap: all that follow each other now. good: those whose signature
    was found to hold just now."""
    left = dict(walks)
    while left:
        sizes = [on.tree.size for on in left.values()]
        wanted = columns([(*on.chain, on.tree.size) for on in left.values()], _PLACE)
        (found,) = at_once(connection, (_NEXT, wanted))
        for site, bay, name, place, record in found.rows:
            on = left[site, bay, name]
            if place == on.tree.size and on.broken is None:
                on.step(record, digest(record), good.get(record) or _read(record))
        left = {
            on.chain: on
            for on, size in zip(left.values(), sizes, strict=True)
            if on.broken is None and on.tree.size == size + AT_ONCE
        }


def _earlier(connection: Connection, walks: Iterable[Walk]) -> dict[Size, str]:
    """Roots that are wanted of what was walked before: from the last place before that is kept."""
    roots: dict[Size, str] = {}
    wanted: dict[tuple[Chain, int], list[int]] = {}
    for on in walks:
        for size in sorted(on.wanted):
            if size == on.began.tree.size:
                roots[on.chain, size] = on.began.tree.root().hex()
            elif size < on.began.tree.size:
                wanted.setdefault((on.chain, size // EVERY), []).append(size)
    if not wanted:
        return roots
    spans = [(*chain, sizes[0], sizes[-1]) for (chain, _), sizes in wanted.items()]
    said = columns([span[:4] for span in spans], _PLACE)
    said["ends"] = packed("integer", [end for *_, end in spans])
    (found,) = at_once(connection, (_SPANS, said))
    trees: dict[tuple[Chain, int], Frontier] = {}
    for site, bay, name, end, size, subtrees, record in found.rows:
        chain = site, bay, name
        of = chain, end // EVERY
        before = trees.get(of) or tree_of(size, subtrees)
        trees[of] = before if record is None else before.grown(record)
        for tree in (before, trees[of]):
            if tree.size in wanted[of]:
                roots[chain, tree.size] = tree.root().hex()
    return roots


def contradicted(claims: Iterable[Claim], roots: Mapping[Size, str]) -> list[Break]:
    """Where chains are not what is claimed of them."""
    broken = []
    for one in claims:
        if roots.get((one.chain, one.size), one.root) == one.root:
            continue
        if one.after:
            why = f"chain {one.after} comes after other records than those that are there"
            broken.append(broken_at(one.chain, "altered-record", one.size - 1, why, None))
        else:
            why = f"a checkpoint of {one.size} records does not hold: one of them is another than it was then"
            broken.append(broken_at(one.chain, "checkpoint", one.size - 1, why, None))
    return broken


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


def broken_at(chain: Chain, what: What, place: int, why: str, said: Said | None) -> Break:
    """A break among the records of a fleet. said: by the record that is there."""
    inspection, revision = getattr(said, "inspection", None), getattr(said, "revision", None)
    return Break(what, KEPT_IN, *chain, place, why, inspection, revision)


def _read(record: bytes) -> Said | None:
    """It was good when it came; somebody may have spoilt it since."""
    try:
        return read_record(record)
    except AlteredError:
        return None


_PLACE = ("sites", "bays", "chains", "numbers")
# Statements are put together of our own names alone (S608); what comes from outside goes as a parameter.
_NEXT = f"""
    SELECT w.site, w.bay, w.chain, t.place, t.record
    FROM unnest(%(sites)s::text[], %(bays)s::text[], %(chains)s::text[], %(numbers)s::integer[])
    AS w(site, bay, chain, number) JOIN LATERAL (
        SELECT place, record FROM fleet_chain AS r
        WHERE (r.site, r.bay, r.chain) = (w.site, w.bay, w.chain)
        AND r.place >= w.number AND r.place < w.number + {AT_ONCE}
    ) AS t ON true ORDER BY w.site, w.bay, w.chain, t.place
"""  # noqa: S608 of constants alone
_SPANS = """
    SELECT w.site, w.bay, w.chain, w.last, l.size, l.subtrees, t.record
    FROM unnest(
        %(sites)s::text[], %(bays)s::text[], %(chains)s::text[], %(numbers)s::integer[], %(ends)s::integer[]
    ) AS w(site, bay, chain, first, last) LEFT JOIN LATERAL (
        SELECT size, subtrees FROM fleet_walked AS v
        WHERE (v.site, v.bay, v.chain) = (w.site, w.bay, w.chain) AND v.size <= w.first
        ORDER BY size DESC LIMIT 1
    ) AS l ON true LEFT JOIN LATERAL (
        SELECT place, record FROM fleet_chain AS r
        WHERE (r.site, r.bay, r.chain) = (w.site, w.bay, w.chain)
        AND r.place >= coalesce(l.size, 0) AND r.place < w.last
    ) AS t ON true ORDER BY w.site, w.bay, w.chain, w.last, t.place
"""
