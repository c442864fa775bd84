"""What holds for every request and every answer, whatever it is: hosts, origins, headers.

OWASP ASVS 4.0.3, level 1: 13.2.3 (cross-site requests), 14.4 (headers), 14.5.1 (methods by the routes).
"""

from __future__ import annotations

from collections.abc import Collection
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; connect-src 'self'; "
    "img-src 'self' data: blob:; media-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
"""Content Security Policy, level 3: only what comes from here, and nothing written into a page."""
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Permissions-Policy": "camera=(self), microphone=(), geolocation=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
SECURE_HEADERS = {"Strict-Transport-Security": "max-age=31536000"}
OWN_HEADER = "x-ringtrue"
"""No page of another site can send it without being asked for leave, which it does not get."""
_READING = ("GET", "HEAD")


class Guard:
    """Around the application. hosts: the names it answers to; None: any, as where a certificate says them."""

    def __init__(self, app: ASGIApp, *, hosts: Collection[str] | None, is_secure: bool) -> None:
        self._app = app
        self._hosts = hosts
        self._headers = HEADERS | (SECURE_HEADERS if is_secure else {})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self._headers.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        refusal = self._refused(scope["method"], Headers(scope=scope))
        if refusal is None:
            await self._app(scope, receive, guarded)
        else:
            await PlainTextResponse(f"{refusal}\n", 403)(scope, receive, guarded)

    def _refused(self, method: str, headers: Headers) -> str | None:
        host = headers.get("host", "")
        if self._hosts is not None and (urlsplit(f"//{host}").hostname or "") not in self._hosts:
            return "This bay's pages are not known by that name: use the address that ringtrue told."
        if method in _READING:
            return None
        site, origin = headers.get("sec-fetch-site"), headers.get("origin")
        is_ours = origin is not None and urlsplit(origin).netloc == host
        if is_ours or (origin is None and (site in ("same-origin", "none") or OWN_HEADER in headers)):
            return None
        return "Sent from another site: open the page here and do it again."
