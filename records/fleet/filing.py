"""A batch of messages into the database, in one transaction; the same again changes nothing.

All messages of a bay are filed by one writer at a time (`held.take_in_turn`), so that each finds what came
before. What a message comes to does not depend on the order in which they come, but that of two documents of
one revision the first is kept until a record of the bay's chain says which it is.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

import structlog
from sqlalchemy import Connection, text

from chain.breaks import Break, What
from contract.chain import ChainResult
from contract.topics import Topics
from records.errors import RecordsUnavailableError
from records.fleet import held
from records.fleet.bays import Bays, bay_of
from records.fleet.database import Fleet, UnfitError
from records.fleet.partitions import Months, month_of
from records.fleet.proving import prove
from records.fleet.reading import Document, Key, Read, Record, Refused, Told, read
from records.fleet.rows import chain_row, checkpoint_row, refused_row
from records.fleet.storing import storing
from records.fleet.tables import CHAIN, CHECKPOINTS, REFUSED, TAKEN_UP
from records.fleet.verifying import KEPT_IN, put_breaks, verify


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
        return prove([self._read(*one) for one in dict.fromkeys(messages) if one[1]])

    def put(self, reads: Sequence[Read]) -> Filed:
        """As `file`, of messages that are read."""
        try:
            return self._file(reads)
        except RecordsUnavailableError:
            raise
        except Exception:  # whatever one of them is, it holds up no other
            self._months.forget()
        if len(reads) == 1:
            return self._alone(reads[0])
        filed, middle = Filed(), len(reads) // 2
        for half in (reads[:middle], reads[middle:]):
            filed.add(self.put(half))
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
        documents = [one for one in reads if isinstance(one, Document)]
        self._months.have({month_of(one.said.opened, now) for one in documents}, now)
        with self._fleet.transaction() as connection:
            good = [one for one in reads if not isinstance(one, Refused)]
            records = [one for one in good if isinstance(one, Record)]
            results = [one.said for one in records if isinstance(one.said, ChainResult)]
            there = held.look(
                connection,
                {bay_of(one) for one in good},
                [_place(one) for one in records],
                {*(one.key for one in documents), *map(key_of, results)},
                {document_of(one) for one in results},
            )
            return _Transaction(connection, there, now).file(self._bays.admit(connection, reads, there.keys))


class _Transaction:
    """One batch, of bays that nobody else files now."""

    def __init__(self, connection: Connection, there: held.Held, now: datetime) -> None:
        self._connection, self._there, self._now = connection, there, now
        self._filed = Filed()
        self._refused: list[Refused] = []
        self._broken: list[Break] = []

    def file(self, reads: Collection[Read]) -> Filed:
        connection, filed, said = self._connection, self._filed, self._there.said
        stored = self._there.stored
        self._refused += [one for one in reads if isinstance(one, Refused)]
        documents = [one for one in reads if isinstance(one, Document)]
        records = self._new_records([one for one in reads if isinstance(one, Record)])
        told = [one for one in reads if isinstance(one, Told)]
        named = [one.said for one in records if isinstance(one.said, ChainResult)]
        filed.records = held.put(connection, CHAIN, [chain_row(one) for one in records])
        self._name(records, said)
        for key in map(key_of, named):
            if stored.get(key) not in {None, *said[key]}:
                self._withdraw(key, stored.pop(key))
        documents += self._released({document_of(one) for one in named})
        self._store(self._good(documents, stored, said), told)
        chains = {(one.said.site, one.said.bay, one.said.chain) for one in records}
        sizes = [(one.said.site, one.said.bay, one.said.chain, one.said.size) for one in told]
        good = {one.payload: one.said for one in records}
        filed.broken = [*put_breaks(connection, self._broken), *verify(connection, chains, sizes, good)]
        filed.declined = self._refused
        filed.refused = [one for one in self._refused if held.put(connection, REFUSED, [refused_row(one)])]
        filed.time = min((one.said.time for one in records), default=None)
        return filed

    def _new_records(self, records: list[Record]) -> list[Record]:
        """Those whose place in their chain is free. Two signed for one place: the chain has forked."""
        records.sort(key=lambda one: (one.said.site, one.said.bay, one.said.chain, one.said.index))
        places = self._there.places
        new = []
        for one in records:
            there = places.get(_place(one))
            if there is None:
                places[_place(one)] = one.sha256
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
            if isinstance(one.said, ChainResult):
                names = said.setdefault(key_of(one.said), set())
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

    def _released(self, named: Collection[tuple[str, str]]) -> list[Document]:
        """What was refused as another came first, and is the one that a record names now."""
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

    def _store(self, documents: Sequence[Document], told: Iterable[Told]) -> None:
        months = [(one, month_of(one.said.opened, self._now)) for one in documents]
        checkpoints = held.putting(CHECKPOINTS, [checkpoint_row(one) for one in told])
        stored, _ = held.at_once(self._connection, storing(months), checkpoints)
        ((self._filed.results,),) = stored.rows


def key_of(record: ChainResult) -> Key:
    """Which result it is of."""
    return record.site, record.bay, record.inspection, record.revision


def document_of(record: ChainResult) -> tuple[str, str]:
    """The topic and the SHA-256 of the document that it names."""
    topic = Topics(record.site, record.bay).inspection_result(record.inspection)
    return topic, record.document_sha256


def _place(one: Record) -> held.Place:
    return one.said.site, one.said.bay, one.said.chain, one.said.index


def _break(what: What, one: Record, why: str) -> Break:
    said = one.said
    of = (said.inspection, said.revision) if isinstance(said, ChainResult) else (None, None)
    return Break(what, KEPT_IN, said.site, said.bay, said.chain, said.index, why, *of)


_WITHDRAW = text("SELECT fleet_withdraw(:site, :bay, :inspection, :revision)")
