"""A gauge that sends when its key is pressed."""

from __future__ import annotations

import asyncio

from config.profile import KeyPress
from drivers.manners.base import AllMeant, Line


class KeyPressBehaviour(AllMeant):
    """Never silent."""

    of_itself = False
    request: bytes | None = None
    timeout_s = 0.0

    def __init__(self, manner: KeyPress) -> None:
        self.kind = manner.kind

    async def watch(self, line: Line) -> None:
        """Watches over an open port until it ended."""
        line.ready("waiting for its key")
        await asyncio.wait({line.ended})
