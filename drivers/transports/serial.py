"""Serial ports, and network URLs that stand for one: whatever pyserial can open."""

from __future__ import annotations

import contextlib
import socket
import termios
from collections.abc import Iterable
from typing import cast

import serial
from serial.tools import list_ports

from config.profile import SerialPort
from drivers.transports.base import READ_TIMEOUT_S, OpenPort, PortInfo, plainly

# A request is a few bytes; a line that takes longer for them is stuck in its flow control.
WRITE_TIMEOUT_S = 1.0
# Asks a quiet far side after a second whether it is still there; given up two unanswered seconds on.
KEEPALIVE = ((socket.TCP_KEEPIDLE, 1), (socket.TCP_KEEPINTVL, 1), (socket.TCP_KEEPCNT, 2))

_PARITY = {"none": serial.PARITY_NONE, "even": serial.PARITY_EVEN, "odd": serial.PARITY_ODD}


def open_serial(url: str, settings: SerialPort) -> OpenPort:
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
        raise plainly(url, error, "a serial port") from error
    if settings.low_latency and hasattr(port, "set_low_latency_mode"):
        # Best effort: only some converters know it, and a pseudo-terminal none of it.
        with contextlib.suppress(OSError, ValueError, termios.error, NotImplementedError):
            port.set_low_latency_mode(True)
    if (connection := connection_of(port)) is not None:
        # A network that is gone says nothing by itself, and a key-press gauge is never missed.
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        for option, value in KEEPALIVE:
            connection.setsockopt(socket.IPPROTO_TCP, option, value)
    return cast(OpenPort, port)


def connection_of(port: object) -> socket.socket | None:
    """The socket of a network port; pyserial keeps it to itself."""
    connection = getattr(port, "_socket", None)
    return connection if isinstance(connection, socket.socket) else None


def listed_serial() -> Iterable[PortInfo]:
    """The serial ports of this machine."""
    ports: Iterable[PortInfo] = list_ports.comports()
    return ports
