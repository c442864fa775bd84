"""Opening and closing a port, with failures a person can act upon; one module for each kind of
transport. A new one is a module and a row here.

Everything here blocks and belongs in a thread.
"""

from __future__ import annotations

import contextlib
import termios
from collections.abc import Callable

from config.profile import PlainDevice, PortSettings, SerialPort
from drivers.transports.base import READ_TIMEOUT_S, OpenPort
from drivers.transports.capture import CAPTURE, open_capture
from drivers.transports.plain import open_plain
from drivers.transports.serial import connection_of, open_serial

__all__ = ["CAPTURE", "READ_TIMEOUT_S", "OpenPort", "close_port", "is_elsewhere", "open_port"]

_KINDS: dict[type, Callable[..., OpenPort]] = {SerialPort: open_serial, PlainDevice: open_plain}


def open_port(name: str, settings: PortSettings) -> OpenPort:
    """Open a path, or a URL where the transport knows some, for ourselves alone where that can be had;
    `capture:FILE` plays what was kept of a port, whatever kind that was.

    Raises PortAbsentError, PortTakenError or PortError, each saying what to do.
    """
    if name.startswith(CAPTURE):
        return open_capture(name)
    return _KINDS[type(settings)](name, settings)


def is_elsewhere(name: str) -> bool:
    """Whether it is no path of this machine."""
    return "://" in name or name.startswith(CAPTURE)


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
