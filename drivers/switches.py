"""A foot switch across a modem line, or a key: when it was pressed. Each waits in a thread."""

from __future__ import annotations

import os
import select
import struct
from collections.abc import Callable, Iterator
from typing import Protocol

from config.press import BoardPress, LinePress, Press
from config.profile import KeyboardPort, PortSettings, SerialPort
from drivers.contacts import WAIT_S, LineSwitch
from drivers.transports import OpenPort

# struct input_event of linux/input.h: two numbers of time, kind, code, value. Kind 1 is a key; value 1 is
# pressed, 0 released, 2 held, which repeats by itself.
_RECORD = struct.Struct("qqHHi")
_KEY, _PRESSED = 1, 1


class Switch(Protocol):
    """Something that is pressed."""

    def presses(self) -> Iterator[int]:
        """Since it was last asked, or within WAIT_S: when, monotonic ns. Raises OSError once it is gone."""


class BoardSwitch:
    """A key of a board, by the kernel's records of it."""

    def __init__(self, port: OpenPort, settings: BoardPress, now_ns: Callable[[], int]) -> None:
        self._fd = port.fileno()
        self._code = settings.code
        self._now_ns = now_ns

    def presses(self) -> Iterator[int]:
        """Waits for keys."""
        if not select.select([self._fd], [], [], WAIT_S)[0]:
            return
        data = os.read(self._fd, 64 * _RECORD.size)
        time_ns = self._now_ns()
        if not data:
            raise OSError("its far side closed it")
        whole = len(data) // _RECORD.size * _RECORD.size
        for _, _, kind, code, value in _RECORD.iter_unpack(data[:whole]):
            if kind == _KEY and value == _PRESSED and self._code in (None, code):
                yield time_ns


def port_settings(press: Press) -> PortSettings:
    """How its port is opened."""
    return SerialPort() if isinstance(press, LinePress) else KeyboardPort(kind="keyboard")


def switch(port: OpenPort, press: Press, now_ns: Callable[[], int]) -> Switch:
    """On an open port. Raises PortError where that can be none."""
    if isinstance(press, LinePress):
        return LineSwitch(port, press, now_ns)
    return BoardSwitch(port, press, now_ns)
