"""When something is plugged in: the kernel tells whoever listens, so that nobody need look all the time.

The kernel's own messages (netlink, NETLINK_KOBJECT_UEVENT) are a dozen lines by Python's own socket module; a
library for them would bring libudev and a licence of its own for no more. One message looks so:

    add@/devices/pci0000:00/…/1-2:1.0/ttyUSB0/tty/ttyUSB0 NUL ACTION=add NUL … NUL SUBSYSTEM=tty NUL …

Where there is no such socket, as in some containers, whoever waits looks again after a while, as it does
anyway: a network port is plugged in without the kernel's knowledge.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
from collections.abc import Callable
from types import TracebackType
from typing import Protocol, Self

# linux/netlink.h; group 1 are the kernel's own messages, before any other program has acted upon them.
_NETLINK_KOBJECT_UEVENT, _KERNEL_GROUP = 15, 1
MESSAGE_BYTES = 8_192
# What a gauge, an adapter or a keyboard appears as.
SUBSYSTEMS = frozenset({b"tty", b"usb", b"hidraw", b"input"})
# One adapter is told in some ten messages, and its node gets its group a little later: looked for once, then.
SETTLE_S = 0.1


class Plugs(Protocol):
    """Tells that something was plugged in."""

    async def wait(self, longest_s: float) -> bool:
        """Until something is plugged in, or so long; whether something was."""


class NoNews:
    """Nobody tells."""

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        return None

    async def wait(self, longest_s: float) -> bool:
        """So long."""
        await asyncio.sleep(longest_s)
        return False


class KernelNews:
    """The kernel tells. An async context manager; use it within one loop."""

    def __init__(self, opened: Callable[[], socket.socket] | None = None) -> None:
        self._opened = kernel_socket if opened is None else opened
        self._socket: socket.socket | None = None
        self._settling: asyncio.TimerHandle | None = None
        self._news = asyncio.Event()

    async def __aenter__(self) -> Self:
        with contextlib.suppress(OSError):
            self._socket = self._opened()
            asyncio.get_running_loop().add_reader(self._socket, self._hear, self._socket)
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._settling is not None:
            self._settling.cancel()
        if self._socket is not None:
            asyncio.get_running_loop().remove_reader(self._socket)
            self._socket.close()

    async def wait(self, longest_s: float) -> bool:
        """Until something is plugged in, or so long."""
        news = self._news
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(longest_s):
                await news.wait()
        return news.is_set()

    def _hear(self, kernel: socket.socket) -> None:
        is_news = False
        try:
            while True:
                is_news |= tells_of_a_device(kernel.recv(MESSAGE_BYTES))
        except BlockingIOError:
            pass
        except OSError:  # more came than it held: what, nobody knows
            is_news = True
        if is_news and self._settling is None:
            self._settling = asyncio.get_running_loop().call_later(SETTLE_S, self._tell)

    def _tell(self) -> None:
        self._settling = None
        self._news.set()
        self._news = asyncio.Event()


def kernel_socket() -> socket.socket:
    """Where the kernel tells. Raises OSError where it does not."""
    made = socket.socket(
        socket.AF_NETLINK,
        socket.SOCK_DGRAM | socket.SOCK_NONBLOCK | socket.SOCK_CLOEXEC,
        _NETLINK_KOBJECT_UEVENT,
    )
    try:
        made.bind((0, _KERNEL_GROUP))
    except OSError:
        made.close()
        raise
    return made


def tells_of_a_device(message: bytes) -> bool:
    """Whether it says that something has come that a gauge may be at."""
    said = dict(part.partition(b"=")[::2] for part in message.split(b"\0"))
    return said.get(b"ACTION") in (b"add", b"bind") and said.get(b"SUBSYSTEM") in SUBSYSTEMS
