"""Where results are handed on to: a URL that takes signed POSTs."""

from __future__ import annotations

import asyncio
import ssl
import time
from collections.abc import Callable
from dataclasses import replace
from email.utils import parsedate_to_datetime
from types import TracebackType

import httpx

from records.forwarding.event import MEDIA_TYPE
from records.forwarding.forwarder import Answer
from records.forwarding.signature import signed

WITHIN_S = 30.0
"""Of connecting, sending, and waiting for an answer, each."""
WHOLE_S = 60.0
"""Of all of it: who sends a byte now and then holds up what waits no longer than that."""
SAID_MAX = 200
"""How much of an answer's text is kept, characters."""
READ_MAX_BYTES = 65_536


class Receiver:
    """secret: what signs; None: nothing does. key_id: which secret it is. trusted: whom to believe, where
    that is not the system's choice. now_s: POSIX time. Raises ValueError where no request can go to the URL.
    """

    def __init__(
        self,
        url: str,
        *,
        secret: bytes | None,
        key_id: str,
        trusted: ssl.SSLContext | None = None,
        now_s: Callable[[], float] = time.time,
    ) -> None:
        self._secret, self._key_id, self._now_s = secret, key_id, now_s
        self._url = _target(url)
        self._client = httpx.AsyncClient(
            verify=trusted or ssl.create_default_context(),
            timeout=WITHIN_S,
            follow_redirects=False,
            # What goes in clear goes to this machine alone, not by a proxy that the environment names.
            trust_env=not self._url.startswith("http:"),
            # As it comes: a short answer that unpacks to a great one is not unpacked.
            headers={"Accept-Encoding": "identity"},
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
        answer = None
        try:
            async with (
                asyncio.timeout(WHOLE_S),
                self._client.stream("POST", self._url, content=event, headers=headers) as response,
            ):
                # The status decides: what its text comes to, or that it breaks off, is another matter.
                answer = Answer(response.status_code, "", self._after(response))
                answer = replace(answer, said=await _said(response))
        except (TimeoutError, httpx.TimeoutException):
            return answer or Answer(None, "no answer in time")
        except (httpx.HTTPError, httpx.StreamError) as error:
            return answer or Answer(None, _line(str(error) or type(error).__name__))
        return answer

    def _after(self, response: httpx.Response) -> float:
        """Seconds that we are asked to wait (RFC 9110, 10.2.3); nought where we are not."""
        asked = response.headers.get("Retry-After", "").strip()
        if asked.isdecimal():
            return float(asked)
        try:
            return max(parsedate_to_datetime(asked).timestamp() - self._now_s(), 0.0)
        except (ValueError, TypeError, OverflowError):
            return 0.0


def _target(url: str) -> str:
    """The target URI (RFC 9110, 7.1) as a receiver has it from the request: of a host alone the path is `/`.
    Raises ValueError."""
    try:
        parts = httpx.URL(url)
        if not parts.host:  # which a name that is none cannot be told of
            raise ValueError("no host")
    except httpx.InvalidURL as error:
        raise ValueError(str(error)) from None
    return f"{parts.scheme}://{parts.netloc.decode()}{parts.raw_path.decode()}"


async def _said(response: httpx.Response) -> str:
    """The beginning of the answer's text, on one line."""
    if response.is_redirect:
        to = _line(response.headers.get("Location", ""))
        return f"elsewhere: {to}; the URL must be that of the receiver itself"
    data = b""
    async for chunk in response.aiter_raw():
        data += chunk
        if len(data) > READ_MAX_BYTES:
            break
    return _line(data.decode(errors="replace"))


def _line(text: str) -> str:
    """A stranger's text: one line, and no character that a terminal or a database takes amiss."""
    shown = (char if char.isprintable() else " " for char in text[: 8 * SAID_MAX])
    return " ".join("".join(shown).split())[:SAID_MAX]
