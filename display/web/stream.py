"""Server-sent events (WHATWG HTML, 9.2) of one page: what has changed, at most some twenty times a second."""

from __future__ import annotations

import asyncio
import json
import math
import time
from collections.abc import AsyncGenerator, Callable
from contextlib import AbstractContextManager, aclosing, nullcontext
from typing import Any

from starlette.responses import Response, StreamingResponse
from starlette.types import Receive, Scope, Send

from display.web.feed import Watcher

ALIVE_S = 2.0
"""Seconds between two signs of life at most. Each says when it was sent, by a clock of the server's own:
a page can tell by it what comes late."""
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


class Events(StreamingResponse):
    """The stream of a page, until it is closed, or does not go on. shown: what the event `page` tells."""

    def __init__(
        self,
        watching: AbstractContextManager[Watcher],
        shown: Shown = lambda _: nullcontext(lambda: None),
        goes_on: Callable[[], bool] = lambda: True,
    ) -> None:
        self._told = _told(watching, shown, goes_on)
        super().__init__(self._told, media_type="text/event-stream", headers=HEADERS)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Without a body where none is asked for: it would never end."""
        if scope["method"] == "HEAD":
            await Response(headers=HEADERS, media_type=self.media_type)(scope, receive, send)
        else:
            await super().__call__(scope, receive, send)

    async def stream_response(self, send: Send) -> None:
        """Its page is let go of as soon as it has gone, not when somebody sweeps up."""
        async with aclosing(self._told):
            await super().stream_response(send)


async def _told(
    watching: AbstractContextManager[Watcher], shown: Shown, goes_on: Callable[[], bool]
) -> AsyncGenerator[str, None]:
    with watching as watcher, shown(watcher.nudge) as more:
        yield f"retry: {RETRY_MS}\n\n"
        said_at_s = looked_at_s = alive_at_s = -math.inf
        while not watcher.is_over:
            await watcher.wait(max(0.0, said_at_s + ALIVE_S - time.monotonic()))
            await asyncio.sleep(max(0.0, looked_at_s + PERIOD_S - time.monotonic()))
            if not goes_on():
                return
            looked_at_s = time.monotonic()
            broker, patches = watcher.take()
            said = [event("broker", {"away": away}) for away in broker]
            said += [event("bay", {"bay": bay, **patch}) for bay, patch in patches.items()]
            page = more()
            said += [event("page", page)] if page is not None else []
            if looked_at_s - (alive_at_s if said else said_at_s) >= ALIVE_S:
                said.insert(0, event("alive", {"at": round(looked_at_s, 3)}))
                alive_at_s = looked_at_s
            if said:
                said_at_s = looked_at_s
                yield "".join(said)
