"""A pseudo-terminal that stands for a serial port: it can be plugged in and pulled out.

Its identity is a symbolic link at a path of the caller's choice; what the link leads to, the number
of the pseudo-terminal, is another one after each plugging in, as with converters on a USB bus.
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import os
import select
import sys
import termios
import tty
from pathlib import Path
from types import TracebackType
from typing import Self

# The most that is taken from the far side at once, bytes; requests are a few bytes long.
READ_BYTES = 4096


class PtyPort:
    """The instrument's end of the line; the daemon opens `path`. Close it, or use it as a context."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._master: int | None = None
        self._number = ""
        self.dropped = 0

    @property
    def plugged(self) -> bool:
        """Whether the port is there."""
        return self._master is not None

    @property
    def device(self) -> str:
        """What the link leads to, or led to last; empty before the first plugging in."""
        return self._number

    def fileno(self) -> int:
        """For a loop to watch; raises ValueError while unplugged."""
        if self._master is None:
            raise ValueError(f"{self.path} is not plugged in")
        return self._master

    def plug(self) -> None:
        """Plug in, under another device name than before. Raises OSError (no pty, folder, path taken)."""
        if self._master is not None:
            return
        if self.path.exists() and not self.path.is_symlink():
            raise FileExistsError(errno.EEXIST, "something else is there", str(self.path))
        master, device = _open_pty()
        if device == self._number:
            spare = master
            try:
                master, device = _open_pty()
            finally:
                os.close(spare)
        self._master, self._number = master, device
        self.path.parent.mkdir(parents=True, exist_ok=True)
        link = self.path.with_name(f".{self.path.name}.{os.getpid()}")
        with contextlib.suppress(FileNotFoundError):
            link.unlink()
        link.symlink_to(device)
        link.replace(self.path)

    def unplug(self) -> None:
        """Pull out: the link vanishes and whoever has the port open is cut off."""
        if self._master is None:
            return
        with contextlib.suppress(FileNotFoundError):
            self.path.unlink()
        os.close(self._master)
        self._master = None

    def write(self, data: bytes) -> None:
        """Send; what nobody takes is gone, as on a wire, and counted in `dropped` (bytes)."""
        if self._master is None or not self._listened():
            self.dropped += len(data)
            return
        try:
            sent = os.write(self._master, data)
        except (BlockingIOError, OSError):
            sent = 0
        self.dropped += len(data) - sent

    @property
    def unread(self) -> int:
        """Bytes that who listens has not taken yet."""
        if self._master is None or not self._listened():
            return 0
        try:
            far = os.open(self._number, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
        except OSError:
            return 0
        try:
            return int.from_bytes(fcntl.ioctl(far, termios.FIONREAD, bytes(4)), sys.byteorder)
        finally:
            os.close(far)

    def read(self) -> bytes:
        """What the far side has sent, without waiting; empty if nothing."""
        if self._master is None:
            return b""
        try:
            return os.read(self._master, READ_BYTES)
        except (BlockingIOError, OSError):
            return b""

    def _listened(self) -> bool:
        """Whether somebody has the other end open."""
        poll = select.poll()
        poll.register(self.fileno(), select.POLLOUT)
        return not any(event & select.POLLHUP for _, event in poll.poll(0))

    def __enter__(self) -> Self:
        self.plug()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.unplug()


def _open_pty() -> tuple[int, str]:
    """A new pair, raw; its far end opened and closed once, so that the near end can tell whether
    anybody listens.
    """
    master, slave = os.openpty()
    try:
        tty.setraw(slave)
        device = os.ttyname(slave)
        os.set_blocking(master, False)
    except BaseException:
        os.close(master)
        raise
    finally:
        os.close(slave)
    return master, device
