"""The records in memory: each revision once, the first bytes kept, and at times away or gone."""

from __future__ import annotations

import asyncio
import json
import random
from collections.abc import Callable
from dataclasses import dataclass, field

from acquire.bay.known import Known


@dataclass
class MemoryRecords:
    """stored: by inspection and revision. puts: how often each came, since they were last wiped."""

    away: bool = False
    stored: dict[tuple[str, int], bytes] = field(default_factory=dict)
    puts: dict[tuple[str, int], int] = field(default_factory=dict)
    chain: list[bytes] = field(default_factory=list)
    contradicted: list[tuple[str, int]] = field(default_factory=list)
    wiped: int = 0
    _is_new: bool = True

    def put(self, document: bytes) -> None:
        """Keep one; OSError while away."""
        if self.away:
            raise OSError("the records are away")
        said = json.loads(document)
        key = said["inspection"], said["revision"]
        self.puts[key] = self.puts.get(key, 0) + 1
        if self.stored.setdefault(key, document) != document:
            self.contradicted.append(key)

    def put_chain(self, record: bytes) -> None:
        """Keep one record of the chain, once; OSError while away."""
        if self.away:
            raise OSError("the records are away")
        if record not in self.chain:
            self.chain.append(record)

    def is_new(self) -> bool:
        """Whether they were emptied since this was last asked."""
        if self.away:
            raise OSError("the records are away")
        self._is_new, is_new = False, self._is_new
        return is_new

    def held(self) -> int:
        """How many results they hold; OSError while away."""
        if self.away:
            raise OSError("the records are away")
        return len(self.stored)

    def go(self, away: bool) -> None:
        """The database goes away, or comes back."""
        self.away = away

    def wipe(self) -> None:
        """Somebody deletes the file; the next who asks makes a new one."""
        self.stored.clear()
        self.puts.clear()
        self.chain.clear()
        self.wiped += 1
        self._is_new = True


@dataclass
class RecordsOfOneRun:
    """The same as one daemon sees them, which may be killed while it waits for them."""

    of_all: MemoryRecords
    rng: random.Random
    is_dead: Callable[[], bool]

    async def deliver(self, document: bytes) -> None:
        await self._put(self.of_all.put, document)

    async def deliver_chain(self, record: bytes) -> None:
        await self._put(self.of_all.put_chain, record)

    async def is_new(self) -> bool:
        return self.of_all.is_new()

    async def held(self, site: str, bay: str) -> int:
        return self.of_all.held()

    async def register(self) -> Known:
        self.of_all.held()
        return Known()

    async def _put(self, put: Callable[[bytes], None], said: bytes) -> None:
        await asyncio.sleep(self.rng.uniform(0.0, 0.01))
        if self.is_dead():
            raise OSError("the daemon is dead")
        put(said)
        await asyncio.sleep(self.rng.uniform(0.0, 0.01))
