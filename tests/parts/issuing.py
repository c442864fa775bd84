"""A bay as its messages: results, records of its chain and checkpoints, as the daemon publishes them."""

from __future__ import annotations

import json
from contextlib import suppress
from datetime import UTC, datetime
from typing import Any

from chain.merkle import Frontier
from chain.signing import canonical, digest
from contract.chain import CHECKPOINT_SCHEMA, RECORD_SCHEMA
from contract.topics import Topics
from records.chained import put_record
from records.errors import RecordRefusedError
from records.store import Store
from tests.chain.signers import signer
from tests.records.reported import a_document

Message = tuple[str, bytes]
TIME = "2026-11-26T05:20:41.000Z"
NOW = datetime(2026, 11, 26, 7, 0, tzinfo=UTC)


class IssuingBay:
    """site, bay: its name, also of its key but where `key` names another."""

    def __init__(self, bay: str = "bay-2", *, site: str = "greywacke", key: str = "") -> None:
        self.topics = Topics(site, bay)
        self.signer = signer(key or f"{site}/{bay}")
        self._chain, self._last, self._tree = "", "", Frontier()

    def begin(self, why: str = "first", **more: Any) -> Message:
        """The record that begins a chain."""
        if self._chain:
            root = self._tree.root().hex()
            more["after"] = {"chain": self._chain, "size": self._tree.size, "root": root}
        fields = {"kind": "begun", "why": why, **more}
        self._chain = digest(canonical({**fields, "bay": self.topics.bay, "key": self.signer.public_key}))[
            :16
        ]
        self._last, self._tree = "", Frontier()
        return self._record(fields)

    def document(self, inspection: str, revision: int = 1, **changed: Any) -> Message:
        """A result, which nothing signs yet."""
        said = {"inspection": inspection, "revision": revision}
        document = a_document(**said, site=self.topics.site, bay=self.topics.bay, **changed)
        return self.topics.inspection_result(inspection), document

    def record(self, document: Message, *, time: str = TIME) -> Message:
        """That of a result, in the chain."""
        said = json.loads(document[1])
        fields = {"kind": "result", "inspection": said["inspection"], "revision": said["revision"]}
        return self._record(fields | {"document_sha256": digest(document[1]), "later": False}, time=time)

    def checkpoint(self) -> Message:
        """Over all records so far."""
        fields = {"schema": CHECKPOINT_SCHEMA, "size": self._tree.size, "root": self._tree.root().hex()}
        return self.topics.checkpoint, self.signer.signed(self._named(fields, TIME))

    def issue(self, inspection: str, revision: int = 1, **changed: Any) -> list[Message]:
        """All messages of one result, as they come; before the first the record that begins the chain."""
        first = [] if self._chain else [self.begin()]
        document = self.document(inspection, revision, **changed)
        return [document, *first, self.record(document), self.checkpoint()]

    def _named(self, fields: dict[str, Any], time: str) -> dict[str, Any]:
        names = {"site": self.topics.site, "bay": self.topics.bay, "chain": self._chain, "time": time}
        return fields | names

    def _record(self, fields: dict[str, Any], *, time: str = TIME) -> Message:
        place = {"schema": RECORD_SCHEMA, "index": self._tree.size, "previous": self._last}
        record = self.signer.signed(self._named(fields | place, time))
        self._tree, self._last = self._tree.grown(record), digest(record)
        return self.topics.chain, record


def put_on_record(store: Store, *messages: Message) -> None:
    """As the daemon's feed does; what contradicts is refused."""
    for topic, payload in messages:
        if topic.endswith("/chain"):
            put_record(store, payload, NOW)
        elif topic.endswith("/result"):
            with suppress(RecordRefusedError):
                store.put(payload)
