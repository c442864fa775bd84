"""Server-sent events (WHATWG HTML, 9.2) of one page: what has changed, at most some twenty times a second."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractContextManager, nullcontext
from typing import Any

from starlette.responses import StreamingResponse

from display.web.feed import Watcher

ALIVE_S = 2.0
"""Seconds between two signs of life where there is nothing else to be said."""
# Seconds between two bursts: what comes meanwhile is told as its newest value.
PERIOD_S = 0.04
# Milliseconds after which a browser connects again.
RETRY_MS = 1000

HEADERS = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}

More = Callable[[], dict[str, Any] | None]
"""What a page has beside the bays; None where nothing is to be told."""
Shown = Callable[[Callable[[], None]], AbstractContextManager[More]]
"""While a page shows something beside: told how to be nudged."""


def event(name: str, data: dict[str, Any]) -> str:
    """One event."""
    return f"event: {name}\ndata: {json.dumps(data, ensure_ascii=False, separators=(',', ':'))}\n\n"


def events(
    watching: AbstractContextManager[Watcher],
    shown: Shown | None = None,
    goes_on: Callable[[], bool] = lambda: True,
) -> StreamingResponse:
    """The stream of a page, until it is closed, or does not go on. shown: what the event `page` tells."""

    async def told() -> AsyncIterator[str]:
        with watching as watcher, nullcontext(_nothing) if shown is None else shown(watcher.nudge) as more:
            watcher.nudge()
            async for said in _told(watcher, more):
                if not goes_on():
                    return
                yield said

    return StreamingResponse(told(), media_type="text/event-stream", headers=HEADERS)


def _nothing() -> None:
    """No page beside."""


async def _told(watcher: Watcher, more: More) -> AsyncIterator[str]:
    yield f"retry: {RETRY_MS}\n\n"
    told_at_s = -PERIOD_S
    while True:
        has_news = await watcher.wait(ALIVE_S)
        await asyncio.sleep(max(0.0, told_at_s + PERIOD_S - time.monotonic()))
        told_at_s = time.monotonic()
        broker, patches = watcher.take()
        said = [event("broker", {"away": away}) for away in broker]
        said += [event("bay", {"bay": bay, **patch}) for bay, patch in patches.items()]
        page = more()
        said += [event("page", page)] if page is not None else []
        if said or not has_news:
            yield "".join(said) or event("alive", {})
