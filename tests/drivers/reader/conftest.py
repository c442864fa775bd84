"""Each test of the reader in a loop of either kind: an ordinary one, and the daemon's that reads itself."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from drivers.turns import TurnsLoop


def pytest_asyncio_loop_factories() -> dict[str, Callable[[], asyncio.AbstractEventLoop]]:
    return {"plain": asyncio.new_event_loop, "turns": TurnsLoop}
