"""A gauge that answers a request."""

from __future__ import annotations

import asyncio

from config.profile import Requested
from drivers.manners.base import MISSES_TO_SILENCE, AllMeant, Line


class RequestedBehaviour(AllMeant):
    """Asked again and again, answered or not; silent after three unanswered requests."""

    of_itself = False

    def __init__(self, manner: Requested) -> None:
        self.request: bytes | None = manner.request_bytes
        self.timeout_s = manner.timeout_s
        self._period_s = manner.period_s

    async def watch(self, line: Line) -> None:
        """Watches over an open port until it ended. Raises PortError where it cannot be written to."""
        misses = 0
        while not line.ended.done():
            asked_ns = line.now_ns()
            misses = 0 if await line.request() is not None else misses + 1
            if misses == MISSES_TO_SILENCE and not line.ended.done():
                line.missed(f"to {misses} requests")
            left_s = self._period_s - (line.now_ns() - asked_ns) / 1e9
            if left_s > 0 and not line.ended.done():
                await asyncio.wait({line.ended}, timeout=left_s)
