"""What an open port is, and what its failures are in plain words."""

from __future__ import annotations

import errno
import os
import termios
from dataclasses import dataclass
from typing import Protocol

from drivers.errors import PortAbsentError, PortError, PortTakenError

# How often a port without a descriptor looks up from its waiting, to see whether it should stop.
READ_TIMEOUT_S = 0.1

_TAKEN = (errno.EBUSY, errno.EAGAIN)
_ABSENT = (errno.ENOENT, errno.ENODEV, errno.ENXIO, errno.EIO)


GROUP = "add the user to the group that owns it"
UDEV = "`ringtrue gauges --udev` prints the rule that lets it"
"""What to do about a port that may not be opened."""


class OpenPort(Protocol):
    """An open port.

    fileno raises OSError where there is no descriptor to wait on; read then returns what has come,
    nothing after READ_TIMEOUT_S, and raises OSError when the far side is gone; one that waits for less than
    that says so by `wait_s`. One whose descriptor gives the machine's own records has `told`: bytes read of
    it in, the gauge's bytes out, none where the records tell of none.
    """

    def fileno(self) -> int: ...

    @property
    def in_waiting(self) -> int: ...

    def read(self, size: int = 1, /) -> bytes: ...

    def write(self, data: bytes, /) -> int | None: ...

    def close(self) -> None: ...


class Descriptor:
    """An open node of the kernel's, by its descriptor."""

    def __init__(self, fd: int) -> None:
        self._fd = fd
        self.in_waiting = 0

    def fileno(self) -> int:
        """The descriptor; raises OSError once closed."""
        if self._fd < 0:
            raise OSError("closed")
        return self._fd

    def close(self) -> None:
        """Once; again is nothing."""
        fd, self._fd = self._fd, -1
        if fd >= 0:
            os.close(fd)


class PortInfo(Protocol):
    """What a listing says of one port; pyserial's is one.

    device: its name for `open_port`. location: where it is plugged in, such as 1-2.3.
    """

    @property
    def device(self) -> str: ...

    @property
    def vid(self) -> int | None: ...

    @property
    def pid(self) -> int | None: ...

    @property
    def serial_number(self) -> str | None: ...

    @property
    def location(self) -> str | None: ...


@dataclass(frozen=True, slots=True)
class ListedPort:
    """A port of which all is known."""

    device: str
    vid: int | None
    pid: int | None
    serial_number: str | None
    location: str | None


def plainly(name: str, error: Exception, kind: str, *, may_not: str = GROUP) -> PortError:
    """The error as a person can act upon it. kind: what `name` should be; may_not: what to do where this user
    may not open it."""
    code = getattr(error, "errno", None)
    if code is None and isinstance(error, termios.error) and error.args:
        code = error.args[0]
    if code in _TAKEN:
        return PortTakenError(f"{name} is in use by another program: close that program")
    if code in _ABSENT:
        return PortAbsentError(f"{name} is not there: plug the gauge in, or correct its port")
    if code in (errno.EACCES, errno.EPERM):
        return PortError(f"{name} may not be opened by this user: {may_not}")
    if "://" in name:
        cause = error.__context__ or error  # pyserial's own text repeats the URL
        why = getattr(cause, "strerror", None) or cause
        return PortAbsentError(f"{name} cannot be reached ({why}): check the address and the network")
    why = os.strerror(code) if isinstance(code, int) else error
    return PortError(f"{name} cannot be opened ({why}): check that it is {kind}")
