"""A gauge whose key changes a modem line."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from config.profile import LineKey
from drivers.contacts import LineSwitch
from drivers.manners.base import Line
from drivers.reading import Reading


class LineKeyBehaviour:
    """Asks, or lets one reading through, at each press."""

    def __init__(self, manner: LineKey) -> None:
        self._manner = manner
        self.of_itself = manner.request_bytes is None
        self.request: bytes | None = manner.request_bytes
        self.timeout_s = manner.timeout_s
        self._wanted: asyncio.Future[None] | None = None
        self._seq = 0

    def admitted(self, readings: Sequence[Reading]) -> Sequence[Reading]:
        """Of a gauge that sends all the time the first after a press. The others were never meant: they take
        no number, so that they are not counted as lost."""
        if self.request is not None:
            return readings
        if self._wanted is None or self._wanted.done():
            return ()
        self._wanted.set_result(None)
        self._seq += 1
        return (replace(readings[0], seq=self._seq),)

    async def watch(self, line: Line) -> None:
        """Watches over an open port until it ended. Raises PortError where it has no such line."""
        key = LineSwitch(line.port, self._manner, line.now_ns)
        line.ready("waiting for its key")
        while not line.ended.done():
            if await line.aside(lambda: next(key.presses(), None)) is None:
                continue
            if not await self._reads(line):
                line.missed(f"for {self.timeout_s:g} s after its key was pressed")

    async def _reads(self, line: Line) -> bool:
        if self.request is not None:
            return await line.request() is not None
        self._wanted = asyncio.get_running_loop().create_future()
        either: set[asyncio.Future[Any]] = {self._wanted, line.ended}
        await asyncio.wait(either, timeout=self.timeout_s, return_when=asyncio.FIRST_COMPLETED)
        came, self._wanted = self._wanted.done(), None
        return came
