"""A foot switch across a modem line, or a key: when it was pressed. Each waits in a thread.

A line is looked at every few milliseconds (TIOCMGET). The kernel could also wake us (TIOCMIWAIT), but whoever
waits there cannot be told to stop, and not every driver of an adapter knows it; a foot is not so quick.
"""

from __future__ import annotations

import os
import select
import struct
import time
from collections.abc import Callable, Iterator
from typing import Protocol, cast

from config.press import BoardPress, LinePress, Press
from config.profile import KeyboardPort, PortSettings, SerialPort
from drivers.errors import PortError
from drivers.transports import OpenPort

# A look costs an adapter one short transfer.
LOOK_S = 0.005
# So long a switch waits for a press at most, before it is asked whether to go on.
WAIT_S = 0.1
# struct input_event of linux/input.h: two numbers of time, kind, code, value. Kind 1 is a key; value 1 is
# pressed, 0 released, 2 held, which repeats by itself.
_RECORD = struct.Struct("qqHHi")
_KEY, _PRESSED = 1, 1


class Lines(Protocol):
    """A port with modem lines; pyserial's are. Raises OSError where it has none after all, or is gone."""

    @property
    def cts(self) -> bool: ...

    @property
    def dsr(self) -> bool: ...

    @property
    def ri(self) -> bool: ...

    @property
    def cd(self) -> bool: ...


class Switch(Protocol):
    """Something that is pressed."""

    def presses(self) -> Iterator[int]:
        """Since it was last asked, or within WAIT_S: when, monotonic ns. Raises OSError once it is gone."""


class Contact:
    """A contact that bounces: pressed the moment it closes, if it had been open for so long. Pure."""

    def __init__(self, debounce_s: float) -> None:
        self._debounce_ns = round(debounce_s * 1e9)
        self._is_closed: bool | None = None
        self._open_since_ns = 0
        self._is_armed = False

    def is_pressed(self, is_closed: bool, time_ns: int) -> bool:
        """One look. Closed at the first is no press: it was so before anybody looked."""
        before, self._is_closed = self._is_closed, is_closed
        if not is_closed:
            if before is not False:
                self._open_since_ns = time_ns
                self._is_armed = before is None
            self._is_armed = self._is_armed or time_ns - self._open_since_ns >= self._debounce_ns
            return False
        pressed = before is False and self._is_armed
        self._is_armed = False
        return pressed


class LineSwitch:
    """Across a modem line. now_ns: monotonic; pause: between two looks."""

    def __init__(
        self,
        port: OpenPort,
        settings: LinePress,
        now_ns: Callable[[], int],
        pause: Callable[[float], None] = time.sleep,
    ) -> None:
        if not hasattr(type(port), settings.line):
            raise PortError("it has no modem lines: a foot switch across one needs a serial port")
        self._lines = cast(Lines, port)
        self._settings = settings
        self._contact = Contact(settings.debounce_s)
        self._now_ns = now_ns
        self._pause = pause

    def presses(self) -> Iterator[int]:
        """Looks, again and again."""
        wanted = self._settings.pressed == "on"
        for _ in range(round(WAIT_S / LOOK_S)):
            is_on = getattr(self._lines, self._settings.line)
            time_ns = self._now_ns()
            if self._contact.is_pressed(is_on is wanted, time_ns):
                yield time_ns
            self._pause(LOOK_S)


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
