"""A batch of messages into the database, in one transaction; the same again changes nothing.

All messages of a bay are filed by one writer at a time (`held.take_in_turn`), so that each finds what came
before. What a message comes to does not depend on the order in which they come, but that of two documents of
one revision the first is kept until a record of the bay's chain says which it is.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any, NamedTuple

import structlog
from sqlalchemy import Connection, text

from chain.breaks import Break, What
from contract.chain import ChainBegun
from contract.topics import Topics
from records.errors import RecordsUnavailableError
from records.fleet import held
from records.fleet.bays import Bays
from records.fleet.database import Fleet, UnfitError
from records.fleet.partitions import Months, month_of
from records.fleet.proving import prove, proven
from records.fleet.reading import Bay, Chain, Document, Key, Named, Read, Record, Refused, Told, read
from records.fleet.rows import checkpoint_row, refused_row
from records.fleet.storing import store, store_records
from records.fleet.tables import CHECKPOINTS, REFUSED, TAKEN_UP, WALKED
from records.fleet.verifying import Size, Walked, Walks, broken_at, contradicted, put_breaks

BAYS_MAX = 600
"""Of which something is filed in one transaction, and so as many locks of it: PostgreSQL as it comes has room
for 6 400 of all sessions together."""


@dataclass(slots=True)
class Filed:
    """What a batch came to. results, records: that were not there. refused, broken: likewise. declined: all
    that was refused, known or not. time: of the oldest record, by its bay's clock."""

    results: int = 0
    records: int = 0
    refused: list[Refused] = field(default_factory=list)
    declined: list[Refused] = field(default_factory=list)
    broken: list[Break] = field(default_factory=list)
    time: str | None = None

    def add(self, other: Filed) -> None:
        """With another one's."""
        self.results += other.results
        self.records += other.records
        self.refused += other.refused
        self.declined += other.declined
        self.broken += other.broken
        self.time = min(filter(None, (self.time, other.time)), default=None)


class Filing:
    """utc: the wall clock. Blocks; for one thread at a time."""

    def __init__(
        self, fleet: Fleet, bays: Bays, utc: Callable[[], datetime] = lambda: datetime.now(UTC)
    ) -> None:
        self._fleet, self._bays, self._utc = fleet, bays, utc
        self._months = Months(fleet)
        self._log = structlog.get_logger()

    def file(self, messages: Iterable[tuple[str, bytes]]) -> Filed:
        """File them all, or none: raises RecordsUnavailableError. What the database will never take is
        refused, and holds up nothing else."""
        return self.put(self.read(messages))

    def read(self, messages: Iterable[tuple[str, bytes]]) -> list[Read]:
        """What they are. Needs no database, and may be done in another thread while others are filed."""
        # An empty one clears what a broker retained.
        return prove([self._read(*one) for one in messages if one[1]])

    def put(self, reads: Sequence[Read]) -> Filed:
        """As `file`, of messages that are read; of very many bays in parts, so that of an error some may be
        filed. The same again files the rest."""
        if len(reads) > BAYS_MAX and len(bays := _bays(reads)) > BAYS_MAX:
            few = set(bays[: len(bays) // 2])
            parts = [one for one in reads if _bay(one) in few], [one for one in reads if _bay(one) not in few]
            return self._one_by_one(parts)
        try:
            return self._file(reads)
        except RecordsUnavailableError:
            raise
        except Exception:  # whatever one of them is, it holds up no other
            self._months.forget()
        if len(reads) == 1:
            return self._alone(reads[0])
        middle = len(reads) // 2
        return self._one_by_one((reads[:middle], reads[middle:]))

    def _one_by_one(self, parts: Iterable[Sequence[Read]]) -> Filed:
        filed = Filed()
        for part in parts:
            filed.add(self.put(part))
        return filed

    def _alone(self, one: Read) -> Filed:
        """Once more, for what was not its fault; then it is refused."""
        try:
            return self._file([one])
        except RecordsUnavailableError:
            raise
        except Exception as error:
            return self._file([self._unfit(one.topic, one.payload, error)])

    def _read(self, topic: str, payload: bytes) -> Read:
        try:
            return read(topic, payload)
        except Exception as error:
            return self._unfit(topic, payload, error)

    def _unfit(self, topic: str, payload: bytes, error: Exception) -> Refused:
        if not isinstance(error, UnfitError):
            self._log.exception("a message that this writer cannot file", topic=topic)
        return Refused(topic, payload, "unfit", f"{type(error).__name__}: {error}")

    def _file(self, reads: Sequence[Read]) -> Filed:
        now = self._utc()
        came = _Came.of(reads)
        self._months.have({month_of(one.said.opened, now) for one in came.documents}, now)
        signed: list[Record | Told] = [*came.records, *came.told]
        chains = {one.chain for one in signed}
        chains |= {claim.chain for one in came.records if (claim := _after(one)) is not None}
        with self._fleet.transaction() as connection:
            there = held.look(
                connection,
                {one.bay for one in (*signed, *came.documents)},
                sorted(chains),
                [_place(one) for one in came.records],
                {one.key for one in came.documents} | {one.result for one in came.records if one.result},
                {found for one in came.records if (found := document_of(one)) is not None},
            )
            admitted = self._bays.admit(connection, reads, there.keys)
            return _Transaction(connection, there, now).file(
                came if admitted is reads else _Came.of(admitted)
            )


def _bay(one: Read) -> Bay | None:
    return None if isinstance(one, Refused) else one.bay


def _bays(reads: Iterable[Read]) -> list[Bay]:
    return list({one.bay: None for one in reads if not isinstance(one, Refused)})


class _Came(NamedTuple):
    """Messages of a batch, by what they are."""

    refused: list[Refused]
    documents: list[Document]
    records: list[Record]
    told: list[Told]

    @staticmethod
    def of(reads: Iterable[Read]) -> _Came:
        came = _Came([], [], [], [])
        to: dict[type, list[Any]] = dict(zip((Refused, Document, Record, Told), came, strict=True))
        for one in reads:
            to[type(one)].append(one)
        return came


class _Transaction:
    """One batch, of bays that nobody else files now."""

    def __init__(self, connection: Connection, there: held.Held, now: datetime) -> None:
        self._connection, self._there, self._now = connection, there, now
        self._filed = Filed()
        self._refused: list[Refused] = []
        self._broken: list[Break] = []

    def file(self, came: _Came) -> Filed:
        connection, filed, said = self._connection, self._filed, self._there.said
        stored = self._there.stored
        self._refused += came.refused
        records = self._new_records(came.records)
        store_records(connection, records)
        self._name(records, said)
        for one in records:
            if one.result in stored and stored[one.result] not in said[one.result]:
                self._withdraw(one.result, stored.pop(one.result))
        released = self._released(records) if self._there.refused else []
        claims = self._claims(records)
        sizes = {(one.chain, one.size) for one in claims} | set(map(_size, came.told))
        walks = Walks(self._there.reached, records, sizes)
        self._store(self._good([*came.documents, *released], stored, said), walks.begin)
        self._hold(walks.end(connection), claims, came.told)
        filed.records = len(records)
        filed.broken = put_breaks(connection, self._broken)
        filed.declined = self._refused
        filed.refused = [one for one in self._refused if held.put(connection, REFUSED, [refused_row(one)])]
        filed.time = min((one.said.time for one in records), default=None)
        return filed

    def _new_records(self, records: list[Record]) -> list[Record]:
        """Those whose place in their chain is free. Two signed for one place: the chain has forked."""
        records.sort(key=_place)
        places = self._there.places
        new = []
        for one in records:
            place = _place(one)
            there = places.get(place)
            if there is None:
                places[place] = one.sha256
                new.append(one)
            elif there != one.sha256:
                why = "another record is in this place: the chain has forked"
                refused = Refused(one.topic, one.payload, "forked", f"{why} ({there[:16]}… is kept)")
                self._refused.append(refused)
                self._broken.append(_break("record-twice", one, why))
        return new

    def _name(self, records: Iterable[Record], said: dict[Key, set[str]]) -> None:
        """Which documents the chains name, those of these records too."""
        for one in records:
            if one.result is not None and isinstance(one.said, Named):
                names = said[one.result]
                if names and one.said.document_sha256 not in names:
                    why = "another record of the bay's names another document for it"
                    self._broken.append(_break("altered-document", one, why))
                names.add(one.said.document_sha256)

    def _withdraw(self, key: Key, sha256: str) -> None:
        """A result that came before its record, and is not the one that the record names."""
        site, bay, inspection, revision = key
        packed = self._connection.execute(
            _WITHDRAW, {"site": site, "bay": bay, "inspection": inspection, "revision": revision}
        ).scalar_one()
        if packed is not None:
            topic = Topics(site, bay).inspection_result(inspection)
            why = f"the record of its bay's chain, which came after it, names another (not {sha256[:16]}…)"
            self._refused.append(Refused(topic, zlib.decompress(packed), "contradicted", why))

    def _released(self, records: Iterable[Record]) -> list[Document]:
        """What was refused as another came first, and is the one that a record names now."""
        named = set(map(document_of, records))
        found = {one: payload for one, payload in self._there.refused.items() if one in named}
        held.put(self._connection, TAKEN_UP, [{"topic": topic, "sha256": sha256} for topic, sha256 in found])
        reads = [read(topic, zlib.decompress(payload)) for (topic, _), payload in found.items()]
        return [one for one in reads if isinstance(one, Document)]

    def _good(
        self, documents: Iterable[Document], stored: dict[Key, str], said: dict[Key, set[str]]
    ) -> list[Document]:
        """Those to be stored; the others are there already, or refused."""
        good = []
        for one in documents:
            there, names = stored.get(one.key), said.get(one.key)
            if there == one.sha256:
                continue
            if names and one.sha256 not in names:
                why = f"its bay's chain names another document ({', '.join(sorted(names))})"
            elif there is not None:
                why = f"another one of this inspection and revision came first ({there})"
            else:
                stored[one.key] = one.sha256
                good.append(one)
                continue
            self._refused.append(Refused(one.topic, one.payload, "contradicted", why))
        return good

    def _store(self, documents: Sequence[Document], meanwhile: Callable[[], None]) -> None:
        months = [(one, month_of(one.said.opened, self._now)) for one in documents]
        store(self._connection, months, meanwhile)
        self._filed.results = len(documents)

    def _claims(self, records: Sequence[Record]) -> list[held.Claim]:
        """What is said of chains that these records may reach now."""
        reached = self._there.reached
        claims = [claim for one in records if (claim := _after(one)) is not None]
        return claims + [
            one
            for one in self._there.claims
            if one.chain in reached and one.size > reached[one.chain].tree.size
        ]

    def _hold(self, walked: Walked, claims: list[held.Claim], told: Sequence[Told]) -> None:
        """The chains as they are walked now against what is claimed of them, and keep both."""
        kept = self._needed(told, walked.roots)
        claims += [held.Claim(one.chain, one.said.size, one.said.root) for one in kept]
        self._broken += walked.broken + contradicted(claims, walked.roots)
        checkpoints = held.putting(CHECKPOINTS, [checkpoint_row(one) for one in kept])
        held.at_once(self._connection, held.putting(WALKED, walked.rows), checkpoints)

    def _needed(self, told: Sequence[Told], roots: Mapping[Size, str]) -> list[Told]:
        """The checkpoints to be kept: whose signature holds. One that says what the records do, which are
        signed, and is followed by a larger one that holds, is needed for nothing: it is left out, and its
        signature looked at only where another one of this size came too and is not the same."""
        largest: dict[Chain, int] = {}
        first: dict[Size, bytes] = {}
        twins: set[Size] = set()
        for one in told:
            if one.is_proven:
                largest[one.chain] = max(one.said.size, largest.get(one.chain, 0))
            size = _size(one)
            if first.setdefault(size, one.payload) != one.payload:
                twins.add(size)
        kept: list[Told] = []
        for one in told:
            size = _size(one)
            is_followed = one.said.size < largest.get(one.chain, 0)
            is_needed = one.is_proven or not (is_followed and roots.get(size) == one.said.root)
            if not is_needed and size not in twins:
                continue
            found = one if one.is_proven else proven(one)
            if isinstance(found, Refused):
                self._refused.append(found)
            elif is_needed:
                kept.append(found)
        return kept


def document_of(record: Record) -> tuple[str, str] | None:
    """The topic and the SHA-256 of the document that it names."""
    said = record.said
    if isinstance(said, ChainBegun):
        return None
    return _result_topic(record.bay, said.inspection), said.document_sha256


@lru_cache(maxsize=4000)
def _result_topic(bay: Bay, inspection: str) -> str:
    return Topics(*bay).inspection_result(inspection)


def _place(one: Record) -> held.Place:
    return *one.chain, one.said.index


def _size(one: Told) -> Size:
    return one.chain, one.said.size


def _after(one: Record) -> held.Claim | None:
    """What a chain that comes after another says of that."""
    said = one.said
    if not isinstance(said, ChainBegun) or said.after is None:
        return None
    after = said.after
    return held.Claim((said.site, said.bay, after.chain), after.size, after.root, said.chain)


def _break(what: What, one: Record, why: str) -> Break:
    return broken_at(one.chain, what, one.said.index, why, one.said)


_WITHDRAW = text("SELECT fleet_withdraw(:site, :bay, :inspection, :revision)")
