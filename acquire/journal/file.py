"""The journal's file: its tables, how it is opened, and how one batch is written, all or nothing."""

from __future__ import annotations

import fcntl
import os
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import structlog

from acquire.errors import JournalError
from acquire.journal.events import Event, encode_body
from acquire.journal.migrations import APPLICATION_ID, SCHEMA_VERSION, STEPS, Step, migrate, version_of
from acquire.journal.outgoing import Outgoing, Resend
from acquire.journal.sealer import Sealer
from drivers.reading import Reading

# Replies kept, so that a repeated request is answered again: months of a busy bay.
REPLIES_KEPT = 10_000

TABLES = {"event", "sample", "result", "reply", "outbox", "batch"}

# Of version SCHEMA_VERSION: what changes here needs a step in `migrations`.
SCHEMA = """
CREATE TABLE event (
    seq INTEGER PRIMARY KEY, inspection TEXT NOT NULL, kind TEXT NOT NULL, time_ns INTEGER NOT NULL,
    operator TEXT, body TEXT NOT NULL);
CREATE INDEX event_inspection ON event (inspection, seq);
CREATE TABLE sample (  -- sweep: the seq of its beginning
    seq INTEGER PRIMARY KEY, sweep INTEGER NOT NULL, gauge TEXT NOT NULL, reading INTEGER NOT NULL,
    time_ns INTEGER NOT NULL, value INTEGER NOT NULL, unit TEXT NOT NULL, u_ns INTEGER NOT NULL DEFAULT 0);
CREATE TABLE result (
    inspection TEXT NOT NULL, revision INTEGER NOT NULL, utc TEXT NOT NULL, document BLOB NOT NULL,
    PRIMARY KEY (inspection, revision));
CREATE INDEX result_utc ON result (utc);
CREATE TABLE reply (n INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, body BLOB NOT NULL);
CREATE TABLE outbox (
    id INTEGER PRIMARY KEY AUTOINCREMENT, destination TEXT NOT NULL, topic TEXT NOT NULL,
    payload BLOB NOT NULL, qos INTEGER NOT NULL, retain INTEGER NOT NULL);
CREATE INDEX outbox_destination ON outbox (destination, id);
CREATE TABLE chain (  -- a record for each result, in order, and one where a chain begins
    n INTEGER PRIMARY KEY, chain TEXT NOT NULL, inspection TEXT, revision INTEGER, record BLOB NOT NULL,
    UNIQUE (inspection, revision));
CREATE INDEX chain_chain ON chain (chain, n);
CREATE TABLE chain_due (why TEXT NOT NULL);  -- one row: the next record begins a chain anew
CREATE TABLE checkpoint (message BLOB NOT NULL);  -- the latest
CREATE TABLE batch (number INTEGER NOT NULL);
INSERT INTO batch VALUES (0);
"""


@dataclass(slots=True)
class Batch:
    """What is committed together.

    take_up: results without a record in the chain get theirs. seen: checkpoints found under the bay's name.
    """

    number: int = 0
    seq: int = 0
    samples: list[tuple[int, int, Reading]] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    messages: list[Outgoing] = field(default_factory=list)
    replies: list[tuple[str, bytes]] = field(default_factory=list)
    results: list[tuple[tuple[str, int, str, bytes], Sequence[Outgoing]]] = field(default_factory=list)
    resends: list[Resend] = field(default_factory=list)
    take_up: bool = False
    seen: list[bytes] = field(default_factory=list)
    done: list[int] = field(default_factory=list)

    @property
    def is_empty(self) -> bool:
        return not (
            self.samples or self.events or self.messages or self.replies or self.results or self.resends
            or self.done or self.take_up or self.seen
        )  # fmt: skip

    @property
    def may_send(self) -> bool:
        """Whether it may put messages into the outbox; readings, of which most batches are, do not."""
        return bool(self.messages or self.results or self.resends or self.take_up or self.seen)


def lock_beside(path: Path) -> int:
    """A lock beside the journal, held until the process ends, however it ends."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        file = os.open(path.with_name(path.name + ".lock"), os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
    except OSError as error:
        raise JournalError(
            f"{path}: cannot be made ({error.strerror}); choose another [journal] path"
        ) from error
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(file)
        raise JournalError(f"{path}: another daemon is using this journal; stop it first") from None
    return file


def identity_of(path: Path) -> tuple[int, int] | None:
    """Which file lies there now; None where none does."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def refuse_others(
    path: Path, db: sqlite3.Connection, *, may_be_empty: bool, steps: Mapping[int, Step] = STEPS
) -> None:
    """Raises JournalError where a database is somebody else's, or of a newer version; changes nothing."""
    version = version_of(db)
    (owner,) = db.execute("PRAGMA application_id").fetchone()
    found = {name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if owner not in (0, APPLICATION_ID) or (found and not found >= TABLES):
        what = f"it holds {', '.join(sorted(found))}" if found else f"its application id is {owner}"
        raise JournalError(
            f"{path}: a journal was expected, but this is another program's database ({what}); "
            "nothing in it was changed: name another file under [journal] path"
        )
    newest = max(steps) + 1
    if version > newest:
        raise JournalError(
            f"{path}: this journal is of version {version}, and this ringtrue knows them up to {newest}; "
            "nothing in it was changed: start the newer ringtrue that wrote it"
        )
    if version not in (*steps, newest) and not (may_be_empty and not found):
        raise JournalError(
            f"{path}: a journal of version {min(steps)} to {newest} was expected, found {version}; "
            "nothing in it was changed: name another file under [journal] path"
        )


def open_writer(path: Path, steps: Mapping[int, Step] = STEPS) -> sqlite3.Connection:
    """A connection that writes: WAL, and each commit on the disk before it returns.

    A journal of an earlier version is brought up first. Raises JournalError where the file is none.
    """
    db = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    try:
        refuse_others(path, db, may_be_empty=True, steps=steps)
        if (found := version_of(db)) in steps:
            migrate(path, db, steps)
            structlog.get_logger().info(
                "journal brought up", journal=str(path), found=found, now=version_of(db)
            )
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")
        if version_of(db) == 0:
            db.executescript(
                f"BEGIN; {SCHEMA} PRAGMA application_id = {APPLICATION_ID};"
                f" PRAGMA user_version = {SCHEMA_VERSION}; COMMIT;"
            )
    except BaseException:
        db.close()
        raise
    return db


def write_batch(db: sqlite3.Connection, batch: Batch, sealer: Sealer | None = None) -> None:
    """One transaction. Raises sqlite3.Error: then nothing of it is written, and `sealer` must load anew."""
    db.execute("BEGIN IMMEDIATE")
    db.execute("UPDATE batch SET number = ?", (batch.number,))
    if batch.samples:
        db.executemany(
            "INSERT INTO sample (seq, sweep, gauge, reading, time_ns, value, unit, u_ns)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (seq, sweep, r.gauge, r.seq, r.time_ns, r.value, r.unit.value, r.u_ns)
                for seq, sweep, r in batch.samples
            ],
        )
    db.executemany(
        "INSERT INTO event (seq, inspection, kind, time_ns, operator, body) VALUES (?, ?, ?, ?, ?, ?)",
        [(e.seq, e.inspection, e.kind, e.time_ns, e.operator, encode_body(e)) for e in batch.events],
    )
    messages, added = list(batch.messages), []
    for result, carried_by in batch.results:
        inserted = db.execute(
            "INSERT INTO result (inspection, revision, utc, document) VALUES (?, ?, ?, ?)"
            " ON CONFLICT DO NOTHING",
            result,
        )
        if inserted.rowcount:
            messages.extend(carried_by)
            added.append((result[0], result[1]))
    if sealer is not None and (added or batch.take_up or batch.seen):
        messages.extend(sealer.seal(db, added, batch.seen))
    if batch.replies:
        db.executemany("INSERT INTO reply (id, body) VALUES (?, ?) ON CONFLICT DO NOTHING", batch.replies)
        db.execute("DELETE FROM reply WHERE n <= (SELECT max(n) FROM reply) - ?", (REPLIES_KEPT,))
    db.executemany(
        "INSERT INTO outbox (destination, topic, payload, qos, retain) VALUES (?, ?, ?, ?, ?)",
        [(m.destination, m.topic, m.payload, m.qos, m.retain) for m in messages],
    )
    for resend in batch.resends:
        _send_again(db, resend)
    db.executemany("DELETE FROM outbox WHERE id = ?", [(row,) for row in batch.done])
    db.execute("COMMIT")


def _send_again(db: sqlite3.Connection, resend: Resend) -> None:
    db.execute(
        "INSERT INTO outbox (destination, topic, payload, qos, retain)"
        " SELECT ?1, iif(?1 = 'mqtt', ?3 || inspection || ?4, ''), document, 1, 0 FROM result"
        " WHERE rowid >= (SELECT min(rowid) FROM result WHERE utc >= ?2) ORDER BY rowid",
        (resend.destination, resend.since, resend.before, resend.after),
    )
    db.execute(
        "INSERT INTO outbox (destination, topic, payload, qos, retain)"
        " SELECT ?1, ?2, record, 1, 0 FROM chain WHERE ?3 = '' OR inspection IS NULL"  # a chain's beginning
        " OR n >= (SELECT min(c.n) FROM chain AS c"
        " JOIN result AS r ON r.inspection = c.inspection AND r.revision = c.revision WHERE r.utc >= ?3)"
        " ORDER BY n",
        (resend.destination, resend.chain, resend.since),
    )


def damaged(path: Path, error: sqlite3.Error) -> JournalError:
    """The plain line for a journal that cannot be read."""
    return JournalError(
        f"{path}: a journal was expected, but it cannot be read ({error}); check the disk, "
        "or move the file aside and start again"
    )
