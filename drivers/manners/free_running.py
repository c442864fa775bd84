"""A gauge that sends by itself."""

from __future__ import annotations

import asyncio

from config.profile import FreeRunning
from drivers.manners.base import MISSES_TO_SILENCE, AllMeant, Line


class FreeRunningBehaviour(AllMeant):
    """Silent after three missed periods."""

    of_itself = True
    request: bytes | None = None
    timeout_s = 0.0

    def __init__(self, manner: FreeRunning) -> None:
        self._limit_ns = round(MISSES_TO_SILENCE * manner.period_s * 1e9)

    async def watch(self, line: Line) -> None:
        """Watches over an open port until it ended."""
        while not line.ended.done():
            left_ns = line.heard_ns + self._limit_ns - line.now_ns()
            if left_ns <= 0:
                if not line.is_silent:
                    line.missed(f"for {self._limit_ns / 1e9:g} s")
                    # A cable put back at the gauge's end may let in the rest of a frame first.
                    line.restart()
                left_ns = self._limit_ns
            await asyncio.wait({line.ended}, timeout=left_ns / 1e9)
