"""A character device that is read as it stands, such as one that hands on reports of a USB gauge."""

from __future__ import annotations

import contextlib
import fcntl
import os
import stat
import termios
import tty

from config.profile import PlainDevice
from drivers.transports.base import Descriptor, OpenPort, plainly

READ_BYTES = 65_536


class PlainPort(Descriptor):
    """An open device. Reads take what has come, and nothing if nothing has."""

    def read(self, size: int = 1, /) -> bytes:
        """What has come."""
        with contextlib.suppress(BlockingIOError):
            return os.read(self.fileno(), max(size, READ_BYTES))
        return b""

    def write(self, data: bytes, /) -> int:
        """All of it in one call, as one report. Raises OSError where the device does not take it."""
        return os.write(self.fileno(), data)


def open_plain(path: str, settings: PlainDevice) -> OpenPort:
    """Open a device for ourselves alone. Raises PortAbsentError, PortTakenError or PortError."""
    kind = f"a character device, as its profile says {settings.kind}"
    try:
        port = PlainPort(os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK | os.O_CLOEXEC))
    except OSError as error:
        raise plainly(path, error, kind) from error
    try:
        if not stat.S_ISCHR(os.fstat(port.fileno()).st_mode):
            raise OSError("it is none")
        fcntl.flock(port.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        if os.isatty(port.fileno()):  # which would send back what it hears, and wait for ends of lines
            tty.setraw(port.fileno())
    except (OSError, termios.error) as error:
        port.close()
        raise plainly(path, error, kind) from error
    return port
