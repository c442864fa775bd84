"""A writer that is left while it looks for what is missing: its database is not closed beneath that."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator
from typing import cast

import pytest

from records.fleet.arriving import Batch, Source
from records.fleet.filing import Filing
from records.fleet.writing import Writer


class Silent:
    """A source of which nothing comes."""

    async def batches(self) -> AsyncIterator[Batch]:
        await asyncio.Event().wait()
        yield cast(Batch, None)

    async def ask(self, topic: str, payload: bytes) -> bool:
        return False


async def test_it_is_left_once_a_look_in_a_thread_has_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("records.fleet.writing.LOOK_EVERY_S", 0.0)
    began, may_end, has_ended = threading.Event(), threading.Event(), threading.Event()

    def in_thread() -> None:
        began.set()
        may_end.wait(60)
        has_ended.set()

    async def look() -> None:
        await asyncio.to_thread(in_thread)

    writer = Writer(cast(Source, Silent()), cast(Filing, None), [look])
    running = asyncio.ensure_future(writer.run())
    await asyncio.to_thread(began.wait, 60)
    writer.leave()
    await asyncio.wait({running}, timeout=0.1)
    assert not running.done()
    may_end.set()
    await asyncio.wait_for(running, 60)
    assert has_ended.is_set()
