"""A bay's journal with results in a chain, and the records beside it."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from acquire.journal.outbox import result_messages
from acquire.journal.outgoing import CHAIN
from acquire.journal.reader import JournalReader
from acquire.journal.sealer import Sealer
from acquire.journal.writer import Journal
from chain.signing import Signing
from contract.topics import Topics
from records.chained import put_record
from records.store import Store
from tests.acquire.hand_clock import HandClock
from tests.chain.signers import signer
from tests.ringtrue.inspected_bay import CONFIG


def document(inspection: str, revision: int = 1, **more: Any) -> bytes:
    """As little of a result document as the records ask for."""
    said = {
        "schema": "ringtrue/result/1", "inspection": inspection, "revision": revision, "state": "signed",
        "site": "greywacke", "bay": "bay-2", "engine": {"serial": "GQ-E-2207"},
        "damper": {"serial": "GQ-D-0815"}, "verdict": "keep", "opened": "2026-03-02T06:00:00.000Z", **more,
    }  # fmt: skip
    return json.dumps(said).encode()


@dataclass
class ChainedBay:
    """A folder with a configuration; `issue` results, `deliver` them."""

    folder: Path
    signing: Signing = field(default_factory=lambda: signer("bay-2"))
    topics: Topics = field(default_factory=lambda: Topics("greywacke", "bay-2"))
    clock: HandClock = field(default_factory=HandClock)
    said: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        (self.folder / "var").mkdir(parents=True, exist_ok=True)
        self.config.write_text(CONFIG)

    @property
    def config(self) -> Path:
        return self.folder / "ringtrue.toml"

    @property
    def journal(self) -> Path:
        return self.folder / "var/journal.db"

    @property
    def records(self) -> Path:
        return self.folder / "var/records.db"

    @contextmanager
    def opened(self, *, sealed: bool = True, **options: Any) -> Iterator[Journal]:
        with closing(Journal(self.journal, **options)) as journal:
            if sealed:
                journal.seal_with(Sealer(self.signing, self.topics, self.clock.utc, self.said.append))
            yield journal

    def start(self, *seen: bytes) -> None:
        """What a start of the daemon does, with what it then finds on MQTT."""
        with self.opened() as journal:
            journal.take_up(*seen)

    def issue(self, *results: tuple[str, int], sealed: bool = True) -> None:
        """Results, each in a commit of its own."""
        with self.opened(sealed=sealed) as journal:
            for inspection, revision in results:
                asyncio.run(self._issue(journal, inspection, revision))

    async def _issue(self, journal: Journal, inspection: str, revision: int) -> None:
        self.clock.now_ns += 1_000_000_000
        said = document(inspection, revision)
        utc = "2026-03-02T06:00:00.000Z"
        journal.put_result(inspection, revision, said, utc, result_messages(self.topics, inspection, said))
        await journal.flushed()

    def deliver(self) -> None:
        """All that waits for the records, as the daemon does."""
        with self.opened(sealed=False) as journal, closing(Store(self.url, utc=self.clock.utc)) as store:
            for row in journal.pending("records", 10_000):
                if row.topic == CHAIN:
                    put_record(store, row.payload, self.clock.utc())
                else:
                    store.put(row.payload)
                journal.done(row.id)
            asyncio.run(journal.flushed())

    @property
    def url(self) -> str:
        return f"sqlite:///{self.records}"

    def checkpoint(self) -> bytes:
        with closing(JournalReader(self.journal)) as reader:
            return reader.checkpoint()

    def chain(self) -> list[dict[str, Any]]:
        with closing(JournalReader(self.journal)) as reader:
            return [json.loads(one.record) for one in reader.chain()]

    def sent(self, topic: str) -> list[bytes]:
        """What waits for MQTT under a topic."""
        with closing(JournalReader(self.journal)) as reader:
            return [row.payload for row in reader.waiting("mqtt", 10_000) if row.topic == topic]
