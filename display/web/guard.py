"""What holds for every request and every answer, whatever it is: hosts, origins, headers, failures.

OWASP ASVS 4.0.3, level 1: 7.4.1 (failures), 13.2.3 (cross-site requests), 14.4 (headers);
docs/display-security.md has the whole list.
"""

from __future__ import annotations

import traceback
from collections.abc import Collection
from urllib.parse import urlsplit

import structlog
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse
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
        self._scheme = "https" if is_secure else "http"
        self._headers = HEADERS | (SECURE_HEADERS if is_secure else {})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        is_begun = False

        async def guarded(message: Message) -> None:
            nonlocal is_begun
            if message["type"] == "http.response.start":
                is_begun = True
                headers = MutableHeaders(scope=message)
                for name, value in self._headers.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        refusal = self._refused(scope["method"], Headers(scope=scope))
        if refusal is not None:
            await JSONResponse({"error": refusal}, 403)(scope, receive, guarded)
            return
        try:
            await self._app(scope, receive, guarded)
        except Exception as error:  # a fault of ours: who asked is told nothing of it, the log where it is
            _tell(scope, error)
            if not is_begun:
                why = {"error": "The bay's pages failed at this: look into their log."}
                await JSONResponse(why, 500)(scope, receive, guarded)

    def _refused(self, method: str, headers: Headers) -> str | None:
        host = headers.get("host", "")
        if self._hosts is not None and _name(host) not in self._hosts:
            return "This bay's pages are not known by that name: use the address that ringtrue told."
        if method in _READING:
            return None
        site, origin = headers.get("sec-fetch-site"), headers.get("origin")
        is_ours = origin == f"{self._scheme}://{host}"
        if is_ours or (origin is None and (site in ("same-origin", "none") or OWN_HEADER in headers)):
            return None
        return "Sent from another site: open the page here and do it again."


def _name(host: str) -> str | None:
    """Of a Host header, without its port; None where it is none."""
    try:
        return urlsplit(f"//{host}").hostname
    except ValueError:
        return None


def _tell(scope: Scope, error: Exception) -> None:
    at = traceback.extract_tb(error.__traceback__)[-1]
    structlog.get_logger().error(
        "a request failed",
        method=scope["method"],
        path=scope["path"],
        error=f"{type(error).__name__}: {error}",
        at=f"{at.filename}:{at.lineno}",
    )
