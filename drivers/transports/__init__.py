"""Finding, opening and closing a port, with failures a person can act upon; one module for each kind of
transport. A new one is a module and a row here.

Everything here blocks and belongs in a thread.
"""

from __future__ import annotations

import contextlib
import termios
from collections.abc import Callable, Iterable

from config.profile import (
    USB_PLACE,
    HidPort,
    KeyboardPort,
    PlainDevice,
    PortSettings,
    SerialPort,
    UsbPort,
)
from drivers.errors import PortError
from drivers.transports.base import READ_TIMEOUT_S, OpenPort, PortInfo
from drivers.transports.capture import CAPTURE, open_capture
from drivers.transports.keyboard import listed_keyboards, open_keyboard
from drivers.transports.plain import open_plain
from drivers.transports.serial import connection_of, listed_serial, open_serial
from drivers.transports.usb import open_usb
from drivers.transports.usb_devices import listed_usb

__all__ = [
    "CAPTURE",
    "READ_TIMEOUT_S",
    "OpenPort",
    "PortInfo",
    "close_port",
    "is_elsewhere",
    "listed_ports",
    "open_port",
]

_KINDS: dict[type, tuple[Callable[..., OpenPort], Callable[[], Iterable[PortInfo]]]] = {
    SerialPort: (open_serial, listed_serial),
    PlainDevice: (open_plain, listed_serial),
    UsbPort: (open_usb, listed_usb),
    HidPort: (open_usb, listed_usb),
    KeyboardPort: (open_keyboard, listed_keyboards),
}


def open_port(name: str, settings: PortSettings) -> OpenPort:
    """Open a path, a place of USB (`usb:1-2`), or a URL where the transport knows some, for ourselves alone
    where that can be had; `capture:FILE` plays what was kept of a port, whatever kind that was.

    Raises PortAbsentError, PortTakenError or PortError, each saying what to do.
    """
    if name.startswith(CAPTURE):
        return open_capture(name)
    wanted = settings.misnamed(name)
    if wanted is not None:
        raise PortError(f"{name} is no such port: expected {wanted}")
    opener, _ = _KINDS[type(settings)]
    return opener(name, settings)


def listed_ports(settings: PortSettings) -> Iterable[PortInfo]:
    """The ports of this machine that could be opened with these settings; nothing is opened for it."""
    _, listing = _KINDS[type(settings)]
    return listing()


def is_elsewhere(name: str) -> bool:
    """Whether it is no path."""
    return "://" in name or name.startswith((CAPTURE, USB_PLACE))


def close_port(port: OpenPort) -> None:
    """Close it, whatever state it is in."""
    # pyserial forgets a socket whose far side has gone without closing it.
    left_open = connection_of(port)
    try:
        with contextlib.suppress(OSError, termios.error):
            port.close()
    finally:
        if left_open is not None:
            with contextlib.suppress(OSError):
                left_open.close()
