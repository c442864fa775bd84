"""Pauses between tries of what may fail for long: how everything of ours asks again."""

from __future__ import annotations

import asyncio


def pause_s(number: int, first_s: float, longest_s: float) -> float:
    """The pause of this number, 0 the first: each twice as long as the one before, up to the longest."""
    return first_s if number <= 0 else min(first_s * 2.0 ** min(number, 64), longest_s)


class Pauses:
    """One after the other; anew after a success."""

    def __init__(self, first_s: float, longest_s: float) -> None:
        self._first_s, self._longest_s = first_s, longest_s
        self._number = 0

    def next_s(self) -> float:
        """The next one."""
        self._number += 1
        return pause_s(self._number - 1, self._first_s, self._longest_s)

    async def wait(self, share: float = 1.0) -> None:
        """The next one, or a share of it, and it is over."""
        await asyncio.sleep(share * self.next_s())

    def anew(self) -> None:
        """It went well: begin with the first again."""
        self._number = 0
