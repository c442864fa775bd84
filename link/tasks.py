"""Ending tasks for certain."""

from __future__ import annotations

import asyncio
from typing import Any

# Seconds after which a task that has not ended is cancelled once more.
_AGAIN_S = 0.05


async def end(*tasks: asyncio.Future[Any]) -> None:
    """Cancel tasks and wait until they have ended, whatever they end with.

    Once is not enough: before Python 3.12 `asyncio.wait_for`, which the MQTT library uses, loses a
    cancellation that comes together with what it waits for.
    """
    left = [task for task in tasks if not task.done()]
    while left:
        for task in left:  # in the order given: a simulated bay comes again to the byte
            task.cancel()
        await asyncio.wait(left, timeout=_AGAIN_S)
        left = [task for task in left if not task.done()]
    for task in tasks:
        if not task.cancelled():
            task.exception()  # seen; whoever cares has asked before
