"""Ending tasks for certain."""

from __future__ import annotations

import asyncio

from link.tasks import end


async def deaf(times: list[int]) -> None:
    """Loses its first two cancellations."""
    while True:
        try:
            await asyncio.Event().wait()
        except asyncio.CancelledError:
            times.append(1)
            if len(times) > 2:
                raise


async def failing() -> None:
    raise ZeroDivisionError


async def test_a_task_that_loses_cancellations_ends_nevertheless() -> None:
    times: list[int] = []
    task = asyncio.ensure_future(deaf(times))
    failed = asyncio.ensure_future(failing())
    await asyncio.sleep(0)
    await end(task, failed)
    assert task.cancelled()
    assert len(times) == 3
    assert isinstance(failed.exception(), ZeroDivisionError)
