"""Where results are handed on to by HTTP."""

from __future__ import annotations

import datetime
from ipaddress import ip_address
from urllib.parse import urlsplit

from pydantic import field_validator

from config.section import FilePath, Section


class WebhookSettings(Section):
    """A system of the shop's own that takes each result by HTTP, once. With `url` the daemon starts what
    hands them on."""

    url: str | None = None
    """Where each result is sent, as a CloudEvent: `https://…`, or `http://` on this machine; left out:
    nowhere."""
    secret_file: FilePath | None = None
    """Its first line is the secret that signs each request; without it none is signed."""
    ca_file: FilePath | None = None
    """The authority to trust (PEM); without it the system's."""
    since: datetime.date | None = None
    """Only what was recorded from this day on (UTC); left out: all that is on record."""

    @field_validator("url")
    @classmethod
    def _safe(cls, url: str | None) -> str | None:
        if url is None:
            return None
        try:
            parts = urlsplit(url)
            good = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
        except ValueError:
            good = False
        if not good or not url.isascii() or not url.isprintable() or " " in url:
            raise ValueError("a URL such as https://host/results")
        if parts.username is not None or parts.fragment:
            raise ValueError("a URL without user, password and fragment; secret_file signs each request")
        if parts.scheme == "http" and not _is_here(parts.hostname or ""):
            raise ValueError("https: beyond this machine nothing is sent in clear")
        return url


def _is_here(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False
