"""Looking into a journal: events, results, replies and the outbox, as committed; never changes it."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import threading
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from acquire.errors import FoldError, JournalError
from acquire.journal.events import Event, Sample, SweepBegun, decode_event
from acquire.journal.file import damaged, refuse_others
from acquire.journal.migrations import SCHEMA_VERSION, migrate, version_of
from acquire.journal.outgoing import Destination
from acquire.journal.sweeps import end_of
from contract.units import Unit


@dataclass(frozen=True, slots=True)
class OutboxRow:
    """A message that waits; `id` rises in the order of delivery."""

    id: int
    topic: str
    payload: bytes
    qos: int
    retain: bool


@dataclass(frozen=True, slots=True)
class StoredResult:
    """A result document, byte for byte as it was published; utc: when it was stored (RFC 3339).

    It is read as bytes also where somebody's hand has left text in its place: SQLite keeps what it is given.
    """

    inspection: str
    revision: int
    utc: str
    document: bytes


@dataclass(frozen=True, slots=True)
class StoredRecord:
    """A record of the bay's chain as it was published, and the columns beside it; a chain's first is of no
    inspection."""

    chain: str
    inspection: str | None
    revision: int | None
    record: bytes


class JournalReader:
    """A journal that exists; safe beside a running daemon, and from any thread.

    One of an earlier version is read from a copy that is brought up: the file itself is the daemon's to
    change. Raises JournalError where the file is missing, damaged or of a newer version.
    """

    def __init__(self, path: Path) -> None:
        if not path.is_file():
            raise JournalError(f"{path}: there is no journal; check [journal] path in the configuration")
        self.path = path
        self._reading = threading.Lock()
        try:
            self._reader = sqlite3.connect(path, check_same_thread=False, isolation_level=None)
        except sqlite3.Error as error:
            raise damaged(path, error) from error
        try:
            refuse_others(path, self._reader, may_be_empty=False)
            if version_of(self._reader) != SCHEMA_VERSION:
                self._reader = _brought_up(path, self._reader)
            self._reader.execute("PRAGMA query_only = 1")
        except sqlite3.Error as error:
            self._reader.close()
            raise damaged(path, error) from error
        except JournalError:
            self._reader.close()
            raise

    def close(self) -> None:
        """Let go of the file."""
        self._reader.close()

    @contextlib.contextmanager
    def naming(self) -> Iterator[None]:
        """Around what makes something of events: what is wrong with them is said with the file's name."""
        try:
            yield
        except FoldError as error:
            if str(self.path) in str(error):
                raise
            raise FoldError(
                f"{self.path}: {error}; the journal is damaged: restore it from a copy, or move it aside"
            ) from None

    def read(self, inspection: str, *, samples: bool = True, upto: int | None = None) -> list[Event]:
        """All committed events of one inspection in journal order; up to and with seq `upto`.

        samples: False leaves the readings out. An unknown inspection has none.
        """
        last = upto if upto is not None else 2**63 - 1
        rows = self._select(
            "SELECT kind, body, time_ns, operator, seq FROM event WHERE inspection = ? AND seq <= ?"
            " ORDER BY seq",
            (inspection, last),
        )
        with self.naming():
            events = [
                decode_event(kind, body, inspection=inspection, time_ns=time_ns, operator=operator, seq=seq)
                for kind, body, time_ns, operator, seq in rows
            ]
            if samples:
                begun = [event for event in events if isinstance(event, SweepBegun)]
                found = [
                    sample
                    for event in begun
                    for sample in self._samples(event, min(last, end_of(event, events) or last))
                ]
                events = sorted([*events, *found], key=lambda event: event.seq)
        return events

    def _samples(self, begun: SweepBegun, last: int) -> list[Event]:
        rows = self._select(
            "SELECT seq, gauge, reading, time_ns, value, unit, u_ns FROM sample"
            " WHERE seq > ? AND seq <= ? AND sweep = ? ORDER BY seq",
            (begun.seq, last, begun.seq),
        )
        units = {str(unit): unit for unit in Unit}
        for row in rows:
            if row[5] not in units or not all(isinstance(row[n], int) for n in (2, 3, 4, 6)):
                raise FoldError(f"reading {row[0]} cannot be read: {row[1:]}")
        return [
            Sample(
                seq=seq, inspection=begun.inspection, time_ns=time_ns, gauge=gauge,
                reading=reading, value=value, unit=units[unit], u_ns=u_ns, sweep=begun.seq,
            )
            for seq, gauge, reading, time_ns, value, unit, u_ns in rows
        ]  # fmt: skip

    def inspections(self) -> list[str]:
        """All inspections, in the order in which they were opened."""
        rows = self._select("SELECT inspection FROM event WHERE kind = 'opened' ORDER BY seq", ())
        return [row[0] for row in rows]

    def latest_inspection(self) -> str | None:
        """The inspection opened last."""
        rows = self._select(
            "SELECT inspection FROM event WHERE kind = 'opened' ORDER BY seq DESC LIMIT 1", ()
        )
        return rows[0][0] if rows else None

    def has(self, inspection: str) -> bool:
        """Whether there is an inspection of this id."""
        return bool(self._select("SELECT 1 FROM event WHERE inspection = ? LIMIT 1", (inspection,)))

    def open_inspection(self) -> str | None:
        """The inspection that is neither closed nor abandoned; a bay has at most one."""
        rows = self._select(
            "SELECT inspection FROM event AS o WHERE kind = 'opened' AND NOT EXISTS (SELECT 1 FROM event AS c"
            " WHERE c.inspection = o.inspection AND c.kind IN ('closed', 'abandoned')) ORDER BY seq",
            (),
        )
        return rows[-1][0] if rows else None

    def result(self, inspection: str, revision: int | None = None) -> StoredResult | None:
        """A stored result: of one revision, or the latest."""
        rows = self._select(
            "SELECT inspection, revision, utc, CAST(document AS BLOB) FROM result WHERE inspection = ?"
            " AND (? IS NULL OR revision = ?) ORDER BY revision DESC LIMIT 1",
            (inspection, revision, revision),
        )
        return StoredResult(*rows[0]) if rows else None

    def latest_result(self) -> StoredResult | None:
        """The latest result of the inspection opened last of those that have one."""
        rows = self._select(
            "SELECT r.inspection, r.revision, r.utc, CAST(r.document AS BLOB) FROM result AS r"
            " JOIN event AS e ON e.inspection = r.inspection AND e.kind = 'opened'"
            " ORDER BY e.seq DESC, r.revision DESC LIMIT 1",
            (),
        )
        return StoredResult(*rows[0]) if rows else None

    def results(self, since: str = "") -> list[StoredResult]:
        """All results from the first that was stored at or after `since` (RFC 3339, UTC, `Z`), in the order
        in which they were kept: a wall clock may have been set back between two of them."""
        rows = self._select(
            "SELECT inspection, revision, utc, CAST(document AS BLOB) FROM result WHERE rowid >="
            " (SELECT min(rowid) FROM result WHERE utc >= ?) ORDER BY rowid",
            (since,),
        )
        return [StoredResult(*row) for row in rows]

    def count_results(self, since: str) -> int:
        """How many `results` would give."""
        sql = "SELECT count(*) FROM result WHERE rowid >= (SELECT min(rowid) FROM result WHERE utc >= ?)"
        return int(self._select(sql, (since,))[0][0])

    def chain(self) -> list[StoredRecord]:
        """All records of the bay's chains, in order."""
        rows = self._select(
            "SELECT chain, inspection, revision, CAST(record AS BLOB) FROM chain ORDER BY n", ()
        )
        return [StoredRecord(*row) for row in rows]

    def checkpoint(self) -> bytes:
        """The latest checkpoint, as it was published; empty before the first."""
        rows = self._select("SELECT CAST(message AS BLOB) FROM checkpoint", ())
        return bytes(rows[0][0]) if rows else b""

    def reply(self, request: str) -> bytes | None:
        """What a request was answered, where it was."""
        rows = self._select("SELECT body FROM reply WHERE id = ?", (request,))
        return bytes(rows[0][0]) if rows else None

    def waiting(self, destination: Destination, limit: int, without: Collection[int] = ()) -> list[OutboxRow]:
        """The oldest committed messages for a destination, but those of the ids in `without`."""
        rows = self._select(
            "SELECT id, topic, payload, qos, retain FROM outbox WHERE destination = ?"
            " AND id NOT IN (SELECT value FROM json_each(?)) ORDER BY id LIMIT ?",
            (destination, json.dumps(list(without)), limit),
        )
        return [OutboxRow(i, topic, bytes(payload), qos, bool(r)) for i, topic, payload, qos, r in rows]

    def queue(self, destination: Destination) -> tuple[int, int]:
        """How many committed messages wait for a destination, and the id of the oldest (0: of none)."""
        sql = "SELECT count(*), coalesce(min(id), 0) FROM outbox WHERE destination = ?"
        count, first = self._select(sql, (destination,))[0]
        return int(count), int(first)

    def _select(self, sql: str, values: tuple[object, ...]) -> list[Any]:
        with self._reading:
            try:
                return self._reader.execute(sql, values).fetchall()
            except sqlite3.Error as error:
                raise damaged(self.path, error) from error


def _brought_up(path: Path, old: sqlite3.Connection) -> sqlite3.Connection:
    """A private copy, on disk as far as it is large, that vanishes when it is closed."""
    copy = sqlite3.connect("", check_same_thread=False, isolation_level=None)
    try:
        with contextlib.closing(old):
            old.backup(copy)
        migrate(path, copy)
    except BaseException:
        copy.close()
        raise
    return copy
