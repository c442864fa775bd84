"""How a gauge's port is opened and set, one model for each kind of transport.

Each says of itself: apart, whether it hands on packets, each set apart from the next (drivers.packets);
answers, whether a request can be sent on it.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from config.profile.base import Byte, Part, kind_if_none

Number = Annotated[int, Field(strict=True, ge=0, le=255)]
USB_PLACE = "usb:"
"""What the name of a place of USB begins with."""


def _is_path(name: str) -> bool:
    return "://" not in name and not name.startswith(USB_PLACE)


class _Port(Part):
    """What most ports are."""

    apart: ClassVar[bool] = False
    answers: ClassVar[bool] = True

    def misnamed(self, name: str) -> str | None:
        """What the port should be called in the bay's configuration; None where it is."""
        return None if _is_path(name) else "a device such as /dev/ttyS0, as its profile's port is a device"


class SerialPort(_Port):
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

    def misnamed(self, name: str) -> str | None:
        """What the port should be called in the bay's configuration; None where it is."""
        if not name.startswith(USB_PLACE):
            return None
        return "a device such as /dev/ttyUSB0, a URL, or usb in its place, as its profile's port is serial"


class PlainDevice(_Port):
    """A character device that is read as it stands: no speed and no signal is set."""

    kind: Literal["plain"]
    """A device that is read as it stands."""


class UsbPort(Part):
    """Endpoints of a USB device that no driver of this machine makes a port of."""

    kind: Literal["usb"]
    """Endpoints of a USB device."""
    interface: Number | None = None
    """The interface's number; left out: the only one there is with such an endpoint, or the only one of the
    vendor-specific class."""
    endpoint: Annotated[int, Field(strict=True, ge=0x81, le=0x8F)] | None = None
    """Address of the endpoint, bulk or interrupt, on which readings come; left out: the interface's only
    one."""
    out_endpoint: Annotated[int, Field(strict=True, ge=0x01, le=0x0F)] | None = None
    """Address of the one that takes requests; left out: the interface's only one."""
    skip_bytes: Annotated[int, Field(strict=True, ge=0, le=63)] = 0
    """So many bytes at the head of each packet are the device's own, not the gauge's."""
    apart: Annotated[bool, Field(strict=True)] = False
    """Each transfer is a packet by itself, for framing `packet`; else bytes go on from one to the next."""
    answers: ClassVar[bool] = True

    def misnamed(self, name: str) -> str | None:
        """What the port should be called in the bay's configuration; None where it is."""
        return _not_a_place(name)


def _not_a_place(name: str) -> str | None:
    if name.startswith(USB_PLACE):
        return None
    return 'usb in its place, or where it is plugged in ("usb:1-2"), as its profile reads the device itself'


class HidPort(_Port):
    """Reports of a USB device of the HID class, each a packet for framing `packet`."""

    kind: Literal["hid"]
    """Reports of a HID."""
    interface: Number | None = None
    """The interface's number; left out: the only one of the HID class."""
    report_id: Byte | None = None
    """Only reports that begin with this number are heard, and handed on without it."""
    report_bytes: Annotated[int, Field(strict=True, ge=1, le=1024)] | None = None
    """The longest report, its number counted; left out: one packet of the endpoint."""
    apart: ClassVar[bool] = True

    def misnamed(self, name: str) -> str | None:
        """What the port should be called in the bay's configuration; None where it is."""
        return _not_a_place(name)


class KeyboardPort(_Port):
    """A gauge that types its readings as a keyboard does; taken for ourselves alone, so that it types into
    nothing else."""

    kind: Literal["keyboard"]
    """It types."""
    layout: Literal["us", "german", "french"] = "us"
    """For which layout it types, as it sends places of keys and no characters."""
    end: Literal["enter", "tab"] = "enter"
    """The key that it types last, which is the terminator "\\n" or "\\t"."""
    answers: ClassVar[bool] = False

    @property
    def end_character(self) -> str:
        """What that key gives."""
        return "\n" if self.end == "enter" else "\t"

    def misnamed(self, name: str) -> str | None:
        """What the port should be called in the bay's configuration; None where it is."""
        if _is_path(name):
            return None
        return "usb in its place, or an input device such as one of /dev/input/by-id, as it types"


PortSettings = Annotated[
    SerialPort | PlainDevice | UsbPort | HidPort | KeyboardPort,
    Field(discriminator="kind"),
    kind_if_none("serial"),
]
