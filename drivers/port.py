"""Opening and closing a port, whatever pyserial can open, with failures a person can act upon.

Everything here blocks and belongs in a thread.
"""

from __future__ import annotations

import contextlib
import errno
import os
import socket
import termios
from typing import Protocol, cast

import serial

from config.profile import PortSettings
from drivers.errors import PortAbsentError, PortError, PortTakenError

# A request is a few bytes; a line that takes longer for them is stuck in its flow control.
WRITE_TIMEOUT_S = 1.0
# How often a port without a descriptor looks up from its waiting, to see whether it should stop.
READ_TIMEOUT_S = 0.1
# Asks a quiet far side after a second whether it is still there; given up two unanswered seconds on.
KEEPALIVE = ((socket.TCP_KEEPIDLE, 1), (socket.TCP_KEEPINTVL, 1), (socket.TCP_KEEPCNT, 2))

_PARITY = {"none": serial.PARITY_NONE, "even": serial.PARITY_EVEN, "odd": serial.PARITY_ODD}
_TAKEN = (errno.EBUSY, errno.EAGAIN)
_ABSENT = (errno.ENOENT, errno.ENODEV, errno.ENXIO, errno.EIO)


class OpenPort(Protocol):
    """An open port, as pyserial gives it.

    fileno raises OSError where there is no descriptor to wait on; read then returns what has come,
    nothing after READ_TIMEOUT_S, and raises OSError when the far side is gone.
    """

    def fileno(self) -> int: ...

    @property
    def in_waiting(self) -> int: ...

    def read(self, size: int = 1, /) -> bytes: ...

    def write(self, data: bytes, /) -> int | None: ...

    def close(self) -> None: ...


def open_port(url: str, settings: PortSettings) -> OpenPort:
    """Open a path or any URL that pyserial knows, for ourselves alone where that can be had.

    Raises PortAbsentError, PortTakenError or PortError, each saying what to do.
    """
    try:
        port = serial.serial_for_url(url, do_not_open=True)
        port.baudrate = settings.baud
        port.bytesize = settings.bytesize
        port.parity = _PARITY[settings.parity]
        port.stopbits = settings.stopbits
        port.rtscts = settings.rtscts
        port.xonxoff = settings.xonxoff
        port.dtr = settings.dtr
        port.rts = settings.rts
        port.timeout = READ_TIMEOUT_S
        if not url.startswith("rfc2217:"):  # which refuses both
            port.write_timeout = WRITE_TIMEOUT_S
            port.exclusive = True
        port.open()
    except Exception as error:  # of a wrong URL pyserial raises even KeyError
        raise _plain(url, error) from error
    if settings.low_latency and hasattr(port, "set_low_latency_mode"):
        # Best effort: only some converters know it, and a pseudo-terminal none of it.
        with contextlib.suppress(OSError, ValueError, termios.error, NotImplementedError):
            port.set_low_latency_mode(True)
    if (connection := _connection(port)) is not None:
        # A network that is gone says nothing by itself, and a key-press gauge is never missed.
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        for option, value in KEEPALIVE:
            connection.setsockopt(socket.IPPROTO_TCP, option, value)
    return cast(OpenPort, port)


def close_port(port: OpenPort) -> None:
    """Close it, whatever state it is in."""
    # pyserial forgets a socket whose far side has gone without closing it.
    left_open = _connection(port)
    try:
        with contextlib.suppress(OSError, termios.error):
            port.close()
    finally:
        if left_open is not None:
            with contextlib.suppress(OSError):
                left_open.close()


def _connection(port: object) -> socket.socket | None:
    """The socket of a network port; pyserial keeps it to itself."""
    connection = getattr(port, "_socket", None)
    return connection if isinstance(connection, socket.socket) else None


def _plain(url: str, error: Exception) -> PortError:
    code = getattr(error, "errno", None)
    if code is None and isinstance(error, termios.error) and error.args:
        code = error.args[0]
    if code in _TAKEN:
        return PortTakenError(f"{url} is in use by another program: close that program")
    if code in _ABSENT:
        return PortAbsentError(f"{url} is not there: plug the gauge in, or correct its port")
    if code in (errno.EACCES, errno.EPERM):
        return PortError(f"{url} may not be opened by this user: add the user to the group that owns it")
    if "://" in url:
        cause = error.__context__ or error  # pyserial's own text repeats the URL
        return PortAbsentError(f"{url} cannot be reached ({cause}): check the address and the network")
    why = os.strerror(code) if isinstance(code, int) else error
    return PortError(f"{url} cannot be opened ({why}): check that it is a serial port")
