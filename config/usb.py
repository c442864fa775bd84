"""A USB device, as a configuration names it."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from config.section import Section


class UsbIdentity(Section):
    """A USB device by what it says of itself and, where two are alike, by where it is plugged in."""

    vendor: Annotated[int, Field(strict=True, ge=0, le=0xFFFF)]
    """Vendor number."""
    product: Annotated[int, Field(strict=True, ge=0, le=0xFFFF)]
    """Product number."""
    serial: str | None = None
    """Serial number, where it has one of its own."""
    location: str | None = None
    """Where it is plugged in, as `ringtrue gauges` says it, where two are alike."""
