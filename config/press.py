"""What is pressed, beside the command, to say that the crank stands at a mark; one model for each kind.

A press is the command `mark`, sent by the daemon itself.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from config.section import Section, mistake
from config.usb import UsbIdentity

Debounce = Annotated[float, Field(strict=True, ge=0, le=1, allow_inf_nan=False)]


class _Switch(Section):
    """Where it is; `by`, whose press it is on record."""

    port: Annotated[str, Field(min_length=1)] | None = None
    """Device or URL; or usb."""
    usb: UsbIdentity | None = None
    """In place of port: the device by what it says of itself."""

    @model_validator(mode="after")
    def _one_place(self) -> Self:
        if (self.port is None) == (self.usb is None):
            found = "neither" if self.port is None else "both"
            raise mistake("port", found, "either port or usb")
        return self


class LinePress(_Switch):
    """A foot switch across the modem lines of a serial port: between RTS or DTR, which are on, and one that
    is listened to."""

    kind: Literal["modem-line"]
    """A line of a serial port."""
    line: Literal["cts", "dsr", "ri", "cd"] = "cts"
    """Which line changes."""
    pressed: Literal["on", "off"] = "on"
    """How it is while the switch is pressed."""
    debounce_s: Debounce = 0.03
    """So long it must have been released before another press counts: contacts bounce some milliseconds."""
    by: ClassVar[str] = "foot switch"


class BoardPress(_Switch):
    """A key of a keyboard, or a foot switch that is one to the machine; taken for ourselves alone, so that it
    types into nothing else."""

    kind: Literal["key"]
    """A key."""
    code: Annotated[int, Field(strict=True, ge=1, le=767)] | None = None
    """Which key, by the kernel's number (57: space, 28: Enter); left out: any."""
    by: ClassVar[str] = "key"


Press = Annotated[LinePress | BoardPress, Field(discriminator="kind")]
