"""A HID's reports beside whoever else reads it, as the kernel copies them (`/dev/hidraw…`): for looking only.

Nothing is taken from its driver or another program, and nothing can be sent; a gauge of the bay is opened by
`usb`, for the bay alone.
"""

from __future__ import annotations

import os
import select

from drivers.packets import set_apart
from drivers.transports.base import READ_TIMEOUT_S, UDEV, Descriptor, OpenPort, plainly

REPORT_BYTES = 4_096


class HidrawPort(Descriptor):
    """An open node: each read takes one report, whole, its number included."""

    def read(self, size: int = 1, /) -> bytes:  # noqa: ARG002 whole reports, as they came
        """One report, set apart; nothing after READ_TIMEOUT_S."""
        if not select.select([self.fileno()], [], [], READ_TIMEOUT_S)[0]:
            return b""
        report = os.read(self.fileno(), REPORT_BYTES)
        if not report:
            raise OSError("its far side closed it")
        return set_apart(report)

    def write(self, data: bytes, /) -> int:  # noqa: ARG002 whatever it is
        """Nothing is sent to what is only looked at."""
        raise OSError("it is listened to alone")


def open_hidraw(path: str) -> OpenPort:
    """Open a node to look at. Raises PortAbsentError or PortError."""
    try:
        return HidrawPort(os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC))
    except OSError as error:
        raise plainly(path, error, "a HID", may_not=UDEV) from error
