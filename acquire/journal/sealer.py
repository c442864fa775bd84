"""Every kept result into the bay's chain, in the very transaction that keeps it; in the writer's thread."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Collection, Iterator
from datetime import datetime
from typing import Any

import structlog

from acquire.journal.outgoing import CHAIN, Outgoing
from chain.errors import AlteredError
from chain.merkle import Frontier, grown_from
from chain.signing import Signing, canonical, digest, read_checkpoint
from contract.chain import CHECKPOINT_SCHEMA, RECORD_SCHEMA, Checkpoint, Why
from contract.topics import Topics
from contract.wire import rfc3339

Key = tuple[str, int]
"""Inspection and revision."""


class Sealer:
    """Signs for one bay. on_contradicted: told, in a sentence, when a checkpoint is none of this journal."""

    def __init__(
        self,
        signing: Signing,
        topics: Topics,
        utc: Callable[[], datetime],
        on_contradicted: Callable[[str], None] = lambda _: None,
    ) -> None:
        self._signing, self._topics, self._utc = signing, topics, utc
        self._on_contradicted = on_contradicted
        self._log = structlog.get_logger().bind(bay=f"{topics.site}/{topics.bay}")
        self._chain = ""
        self._begun: dict[str, Any] = {}
        self._tree = Frontier()
        self._last = ""
        self._all_sealed = False

    def load(self, db: sqlite3.Connection) -> None:
        """Take up what a journal holds; again after each failure to write it."""
        latest = db.execute("SELECT chain FROM chain ORDER BY n DESC LIMIT 1").fetchone()
        self._chain = latest[0] if latest is not None else ""
        records = _records(db, self._chain)
        self._tree = grown_from(records)
        self._last = digest(records[-1]) if records else ""
        self._begun = _read(records[0]) if records else {}
        self._all_sealed = False

    def seal(self, db: sqlite3.Connection, new: Collection[Key], seen: Collection[bytes]) -> list[Outgoing]:
        """Within the caller's transaction: a record for each result that has none, and the messages that
        carry them. new: the results kept in this transaction; what else has none is taken up later. seen:
        checkpoints found under this bay's name."""
        records = list(self._begin_where_due(db, seen))
        for inspection, revision, document in self._without_record(db, new):
            fields = {
                "kind": "result",
                "inspection": inspection,
                "revision": revision,
                "document_sha256": digest(document),
                "later": (inspection, revision) not in new,
            }
            records.append(self._append(db, fields, (inspection, revision)))
        self._all_sealed = True
        if not records:
            return []
        checkpoint = self._checkpoint()
        db.execute("DELETE FROM checkpoint")
        db.execute("INSERT INTO checkpoint (message) VALUES (?)", (checkpoint,))
        messages = [Outgoing("mqtt", self._topics.chain, record) for record in records]
        messages += [Outgoing("records", CHAIN, record) for record in records]
        return [*messages, Outgoing("mqtt", self._topics.checkpoint, checkpoint, retain=True)]

    # -- where a chain begins

    def _begin_where_due(self, db: sqlite3.Connection, seen: Collection[bytes]) -> Iterator[bytes]:
        if (why := self._due(db)) is not None:
            yield self._begin(db, why, None)
        kept = [] if self._all_sealed else db.execute("SELECT message FROM checkpoint").fetchall()
        for message in (*(message for (message,) in kept), *seen):
            if (sentence := self._contradicted(db, message)) is not None:
                self._on_contradicted(sentence)
                yield self._begin(db, "contradicted", _read(message))

    def _due(self, db: sqlite3.Connection) -> Why | None:
        marked = db.execute("SELECT why FROM chain_due LIMIT 1").fetchone()
        if not self._chain:
            return "first"
        if marked is not None:
            return "restored"
        if self._begun.get("key") != self._signing.public_key:
            return "other-key"
        if (self._begun.get("site"), self._begun.get("bay")) != (self._topics.site, self._topics.bay):
            return "renamed"
        return None

    def _contradicted(self, db: sqlite3.Connection, message: bytes) -> str | None:
        """Where a checkpoint of this bay is none of this journal: why, in a sentence."""
        try:
            seen = read_checkpoint(message)
        except AlteredError as error:
            self._log.warning("a checkpoint under this bay's name is none", reason=str(error))
            return None
        if (seen.site, seen.bay) != (self._topics.site, self._topics.bay):
            return None
        if any(_is_of(seen, _read(record).get("seen")) for record in _beginnings(db)):
            return None
        records = _records(db, seen.chain)
        what = f"a checkpoint of {seen.size} records of chain {seen.chain}, made {seen.time},"
        if not records:
            return f"{what} was seen under this bay's name, and this journal knows no such chain: " + _ASK
        if seen.key not in (_read(records[0]).get("key"), self._signing.public_key):
            self._log.warning("a checkpoint of this bay's chain is signed by another's key", key=seen.key)
            return None
        if len(records) < seen.size:
            return f"{what} was seen, and this journal holds {len(records)} of it: " + _ASK
        if grown_from(records[: seen.size]).root().hex() != seen.root:
            return f"{what} was seen, and the records in this journal are others: " + _ASK
        return None

    def _begin(self, db: sqlite3.Connection, why: Why, seen: dict[str, Any] | None) -> bytes:
        fields: dict[str, Any] = {"kind": "begun", "why": why, "time": rfc3339(self._utc())}
        if self._chain:
            root = self._tree.root().hex()
            fields["after"] = {"chain": self._chain, "size": self._tree.size, "root": root}
        if seen is not None:
            fields["seen"] = seen
        name = digest(canonical({**fields, **self._names(), "key": self._signing.public_key}))[:16]
        self._chain, self._tree, self._last = name, Frontier(), ""
        db.execute("DELETE FROM chain_due")
        record = self._append(db, fields, (None, None))
        self._begun = _read(record)
        return record

    # -- records and checkpoints

    def _append(
        self, db: sqlite3.Connection, fields: dict[str, Any], of: tuple[str | None, int | None]
    ) -> bytes:
        record = self._signing.signed(
            {
                "schema": RECORD_SCHEMA,
                **self._names(),
                "chain": self._chain,
                "index": self._tree.size,
                "previous": self._last,
                "time": rfc3339(self._utc()),
                **fields,
            }
        )
        db.execute(
            "INSERT INTO chain (chain, inspection, revision, record) VALUES (?, ?, ?, ?)",
            (self._chain, *of, record),
        )
        self._tree, self._last = self._tree.grown(record), digest(record)
        return record

    def _checkpoint(self) -> bytes:
        return self._signing.signed(
            {
                "schema": CHECKPOINT_SCHEMA,
                **self._names(),
                "chain": self._chain,
                "size": self._tree.size,
                "root": self._tree.root().hex(),
                "time": rfc3339(self._utc()),
            }
        )

    def _names(self) -> dict[str, str]:
        return {"site": self._topics.site, "bay": self._topics.bay}

    def _without_record(
        self, db: sqlite3.Connection, new: Collection[Key]
    ) -> Iterator[tuple[str, int, bytes]]:
        if not self._all_sealed:
            yield from db.execute(
                "SELECT inspection, revision, CAST(document AS BLOB) FROM result AS r WHERE NOT EXISTS"
                " (SELECT 1 FROM chain AS c WHERE c.inspection = r.inspection AND c.revision = r.revision)"
                " ORDER BY rowid"
            ).fetchall()
            return
        for key in new:
            yield from db.execute(
                "SELECT inspection, revision, CAST(document AS BLOB) FROM result"
                " WHERE inspection = ? AND revision = ?",
                key,
            )


_ASK = (
    "was the journal put back from an older copy, or does another daemon use this name? Results go on in a "
    "chain that begins anew, and says so"
)


def _records(db: sqlite3.Connection, chain: str) -> list[bytes]:
    found = db.execute("SELECT CAST(record AS BLOB) FROM chain WHERE chain = ? ORDER BY n", (chain,))
    return [record for (record,) in found]


def _beginnings(db: sqlite3.Connection) -> list[bytes]:
    found = db.execute("SELECT CAST(record AS BLOB) FROM chain WHERE inspection IS NULL ORDER BY n")
    return [record for (record,) in found]


def _read(record: bytes) -> dict[str, Any]:
    """What a record of ours says; nothing where somebody has spoilt it: a bay goes on all the same."""
    try:
        fields = json.loads(record)
    except ValueError:
        return {}
    return fields if isinstance(fields, dict) else {}


def _is_of(seen: Checkpoint, marked: Any) -> bool:
    return isinstance(marked, dict) and marked.get("signature") == seen.signature
