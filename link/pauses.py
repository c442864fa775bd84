"""Pauses between tries of what may fail for long."""

from __future__ import annotations

import asyncio


class Pauses:
    """Each twice as long as the one before, up to the longest; anew after a success."""

    def __init__(self, first_s: float, longest_s: float) -> None:
        self._first_s, self._longest_s = first_s, longest_s
        self._next_s = first_s

    async def wait(self, share: float = 1.0) -> None:
        """The next one, or a share of it."""
        pause_s, self._next_s = self._next_s, min(2 * self._next_s, self._longest_s)
        await asyncio.sleep(share * pause_s)

    def anew(self) -> None:
        """It went well: begin with the first again."""
        self._next_s = self._first_s
