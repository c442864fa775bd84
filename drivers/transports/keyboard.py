"""A gauge that types its readings: its keys as the kernel's input layer tells them.

The device is taken (EVIOCGRAB), so that what it types goes nowhere else. The kernel's interface for it is one
call and one record of 24 bytes (linux/input.h), and Python's own modules do both.
"""

from __future__ import annotations

import fcntl
import os
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from config.profile import KeyboardPort
from drivers.transports.base import UDEV, ListedPort, OpenPort, plainly
from drivers.transports.keys import Keys

READ_BYTES = 65_536
# A gauge that is typing as it is opened is heard from the middle of its line on: one that begins sooner than
# this, s, after opening may be the rest of one. Ten times the pause between two keys.
SETTLE_S = 0.3
# _IOW('E', 0x90, int) of linux/input.h.
_EVIOCGRAB = 0x40044590
_INPUTS = Path("/sys/class/input")
# Keys of figures, one of which a board has that types readings: the row above the letters, and the pad's.
_FIGURES = sum(1 << code for code in (*range(2, 12), *range(71, 74), *range(75, 78), *range(79, 83)))


class TypedPort:
    """An open board. Reads take the lines that have been typed, and nothing if none has."""

    def __init__(self, fd: int, keys: Keys) -> None:
        self._fd = fd
        self._keys = keys
        self.in_waiting = 0

    def fileno(self) -> int:
        """The descriptor; raises OSError once closed."""
        if self._fd < 0:
            raise OSError("closed")
        return self._fd

    def told(self, data: bytes) -> bytes:
        """The lines that what was read of the descriptor ends."""
        return self._keys.typed(data, time.monotonic())

    def read(self, size: int = 1, /) -> bytes:
        """The lines that have been typed."""
        try:
            return self.told(os.read(self.fileno(), max(size, READ_BYTES)))
        except BlockingIOError:
            return b""

    def write(self, data: bytes, /) -> int:  # noqa: ARG002 whatever it is
        """Nothing can be sent to it."""
        raise OSError("nothing can be sent to a gauge that types")

    def close(self) -> None:
        """Once; again is nothing. What it types goes to whoever else listens again."""
        fd, self._fd = self._fd, -1
        if fd >= 0:
            os.close(fd)


def grab(fd: int) -> None:
    """Take the device for ourselves alone. Raises OSError."""
    fcntl.ioctl(fd, _EVIOCGRAB, 1)


def open_keyboard(
    path: str,
    settings: KeyboardPort,
    grab: Callable[[int], None] = grab,
    settle_s: float = SETTLE_S,
) -> OpenPort:
    """Open an input device for ourselves alone. Raises PortAbsentError, PortTakenError or PortError."""
    kind = "an input device, such as one of /dev/input/by-id, as its profile says keyboard"
    fd = -1
    try:
        fd = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
        grab(fd)
    except OSError as error:
        if fd >= 0:
            os.close(fd)
        raise plainly(path, error, kind, may_not=UDEV) from error
    settled_s = time.monotonic() + settle_s
    return TypedPort(fd, Keys(settings.layout, end=settings.end_character, settled_s=settled_s))


def listed_keyboards(inputs: Path = _INPUTS) -> Iterable[ListedPort]:
    """The boards with figures that are plugged into USB, as sysfs has them."""
    for place in sorted(inputs.glob("event*")):
        try:
            device = (place / "device").resolve(strict=True)
            words = (device / "capabilities/key").read_text().split()
            usb = next(_usb_above(device), None)
            if usb is not None and _keys_of(words) & _FIGURES:
                yield _listed(f"/dev/input/{place.name}", usb)
        except (OSError, ValueError):  # it was pulled out meanwhile
            continue


def _keys_of(words: list[str]) -> int:
    """Words of 64 bits in hexadecimal, the highest first."""
    keys = 0
    for word in words:
        keys = keys << 64 | int(word, 16)
    return keys


def _usb_above(device: Path) -> Iterator[Path]:
    return (folder for folder in device.parents if (folder / "idVendor").is_file())


def _listed(path: str, usb: Path) -> ListedPort:
    serial = usb / "serial"
    return ListedPort(
        path,
        int((usb / "idVendor").read_text(), 16),
        int((usb / "idProduct").read_text(), 16),
        serial.read_text().strip() if serial.is_file() else None,
        usb.name,
    )
