"""How a question to the records is answered, or why it is not."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from anyio import CapacityLimiter, to_thread
from starlette.responses import JSONResponse, Response

from config.errors import RingtrueError

AT_ONCE = 2
"""Reads that run at the same time; the others wait."""
NO_STORE = {"Cache-Control": "no-store", "X-Content-Type-Options": "nosniff"}

T = TypeVar("T")


class Answering:
    """Asks in a thread, and few at once: a long read keeps no stream waiting."""

    def __init__(self) -> None:
        self._limiter = CapacityLimiter(AT_ONCE)

    async def __call__(
        self, read: Callable[[], T | None], shown: Callable[[T], Response], missing: str
    ) -> Response:
        """What `read` finds, as `shown` has it; missing: what is said where it finds nothing."""
        try:
            found = await to_thread.run_sync(read, limiter=self._limiter)
        except RingtrueError as error:
            return error_line(503, str(error))
        response = error_line(404, missing) if found is None else shown(found)
        response.headers.update(NO_STORE)
        return response


def error_line(status: int, line: str) -> Response:
    """What is wrong, in one line."""
    return JSONResponse({"error": " ".join(line.split())}, status, headers=NO_STORE)
