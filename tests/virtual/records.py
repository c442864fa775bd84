"""The records in memory: each revision once, the first bytes kept, and at times away or gone."""

from __future__ import annotations

import json
from dataclasses import dataclass, field


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

    async def is_new(self) -> bool:
        """Whether they were emptied since this was last asked."""
        if self.away:
            raise OSError("the records are away")
        self._is_new, is_new = False, self._is_new
        return is_new

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
