"""How a gauge's port is opened and set, one model for each kind of transport."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from config.profile.base import Part, kind_if_none


class SerialPort(Part):
    """A serial port, here or behind a network URL, which takes what of the settings it can."""

    kind: Literal["serial"] = "serial"
    """A serial port."""
    baud: Annotated[int, Field(ge=50, le=4_000_000)] = 9600
    """Speed, bit/s."""
    bytesize: Literal[7, 8] = 8
    """Bits of a character."""
    parity: Literal["none", "even", "odd"] = "none"
    """Parity bit."""
    stopbits: Literal[1, 2] = 1
    """Stop bits."""
    rtscts: bool = False
    """Flow control by RTS and CTS."""
    xonxoff: bool = False
    """Flow control by characters."""
    dtr: bool = True
    """DTR line, on while the port is open; some gauges draw their power from it."""
    rts: bool = True
    """RTS line, likewise."""
    low_latency: bool = True
    """Ask a converter not to hold short packets back (16 ms with some)."""


class PlainDevice(Part):
    """A character device that is read as it stands: no speed and no signal is set."""

    kind: Literal["plain"]
    """A device that is read as it stands."""


PortSettings = Annotated[SerialPort | PlainDevice, Field(discriminator="kind"), kind_if_none("serial")]
