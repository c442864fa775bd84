"""What is sent with a request, held to a size and to a time (OWASP ASVS 4.0.3, 12.1.1)."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from starlette.requests import ClientDisconnect, Request

WITHIN_S = 60.0
"""Seconds for all of it to come: a picture over a shop's worst corner of Wi-Fi."""


class TooMuchError(Exception):
    """More came than is taken, or it came too slowly."""


async def body_of(request: Request, most: int) -> bytes:
    """All that was sent, in bytes. Raises TooMuchError before more than that is held."""
    body = bytearray()
    await pour(request, most, body.extend)
    return bytes(body)


async def pour(request: Request, most: int, into: Callable[[bytes], object]) -> None:
    """Hand on what is sent as it comes. Raises TooMuchError before more than so many bytes are handed on."""
    if int(request.headers.get("content-length", "0")) > most:  # digits alone: the server sees to it
        raise TooMuchError
    left = most
    try:
        async with asyncio.timeout(WITHIN_S):
            async for chunk in request.stream():
                left -= len(chunk)
                if left < 0:
                    raise TooMuchError
                into(chunk)
    except (TimeoutError, ClientDisconnect):
        raise TooMuchError from None
