"""Where results are handed on to: a URL that takes signed POSTs."""

from __future__ import annotations

import time
from collections.abc import Callable
from email.utils import parsedate_to_datetime
from ssl import SSLContext
from types import TracebackType

import httpx

from records.forwarding.event import MEDIA_TYPE
from records.forwarding.forwarder import Answer
from records.forwarding.signature import signed

WITHIN_S = 30.0
"""Of connecting, sending, and waiting for an answer, each."""
SAID_MAX = 200
"""How much of an answer's text is kept, characters."""
READ_MAX_BYTES = 65_536


class Receiver:
    """secret: what signs; None: nothing does. key_id: which secret it is. trusted: whom to believe, where
    that is not the system's choice. now_s: POSIX time."""

    def __init__(
        self,
        url: str,
        *,
        secret: bytes | None,
        key_id: str,
        trusted: SSLContext | None = None,
        now_s: Callable[[], float] = time.time,
    ) -> None:
        self._url, self._secret, self._key_id, self._now_s = url, secret, key_id, now_s
        self._client = httpx.AsyncClient(
            verify=True if trusted is None else trusted, timeout=WITHIN_S, follow_redirects=False
        )

    async def __aenter__(self) -> Receiver:
        await self._client.__aenter__()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self._client.__aexit__(kind, error, trace)

    async def post(self, event: bytes) -> Answer:
        """Send one event; whatever goes wrong is the answer."""
        headers = {"Content-Type": MEDIA_TYPE}
        if self._secret is not None:
            headers = signed(
                self._url, MEDIA_TYPE, event, secret=self._secret, key_id=self._key_id, at=int(self._now_s())
            )
        try:
            async with self._client.stream("POST", self._url, content=event, headers=headers) as response:
                return Answer(response.status_code, await _said(response), self._after(response))
        except httpx.HTTPError as error:
            return Answer(None, str(error) or type(error).__name__)

    def _after(self, response: httpx.Response) -> float:
        """Seconds that we are asked to wait (RFC 9110, 10.2.3); nought where we are not."""
        asked = response.headers.get("Retry-After", "").strip()
        if asked.isdecimal():
            return float(asked)
        try:
            return max(parsedate_to_datetime(asked).timestamp() - self._now_s(), 0.0)
        except (ValueError, TypeError, OverflowError):
            return 0.0


async def _said(response: httpx.Response) -> str:
    """The beginning of the answer's text, on one line."""
    if response.is_redirect:
        return (
            f"elsewhere: {response.headers.get('Location', '')}; the URL must be that of the receiver itself"
        )
    data = b""
    async for chunk in response.aiter_bytes():
        data += chunk
        if len(data) > READ_MAX_BYTES:
            break
    return " ".join(data.decode(errors="replace").split())[:SAID_MAX]
