"""What is refused is kept whole, to a bound: beyond it the oldest is let go, counted and told."""

from __future__ import annotations

import asyncio

import structlog
from sqlalchemy import text

from records.fleet.database import Fleet


class LettingGo:
    """most, most_bytes: messages that are kept, and bytes of them as they are stored."""

    def __init__(self, fleet: Fleet, most: int, most_bytes: int) -> None:
        self._fleet, self._most, self._most_bytes = fleet, most, most_bytes
        self._log = structlog.get_logger()

    async def look(self) -> None:
        """Let go of what is beyond it. Raises RecordsUnavailableError."""
        for reason, number, size in await asyncio.to_thread(self._let_go):
            what = "more is refused than is kept: the oldest is let go; find who sends it, or raise [refused]"
            self._log.error(what, reason=reason, messages=number, bytes=size)

    def _let_go(self) -> list[tuple[str, int, int]]:
        with self._fleet.transaction() as connection:
            said = {"most": self._most, "most_bytes": self._most_bytes}
            return [(reason, number, size) for reason, number, size in connection.execute(_LET_GO, said)]


_LET_GO = text("SELECT reason, number, bytes FROM fleet_let_go(:most, :most_bytes)")
