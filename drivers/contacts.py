"""A switch across a modem line of a port: when it was pressed.

The line is looked at every few milliseconds (TIOCMGET). The kernel could also wake us (TIOCMIWAIT), but
whoever waits there cannot be told to stop, and not every adapter's driver knows it; a foot is not so quick.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Literal, Protocol, cast

from drivers.errors import PortError

# A look costs an adapter one short transfer.
LOOK_S = 0.005
# So long a switch waits for a press at most, before it is asked whether to go on.
WAIT_S = 0.1


class Closing(Protocol):
    """What is known of a switch: config.press.LinePress is one, config.profile.LineKey another."""

    @property
    def line(self) -> Literal["cts", "dsr", "ri", "cd"]: ...

    @property
    def pressed(self) -> Literal["on", "off"]: ...

    @property
    def debounce_s(self) -> float: ...


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
        port: object,
        settings: Closing,
        now_ns: Callable[[], int],
        pause: Callable[[float], None] | None = None,
    ) -> None:
        if not hasattr(type(port), settings.line):
            raise PortError("it has no modem lines: a foot switch across one needs a serial port")
        self._lines = cast(Lines, port)
        self._settings = settings
        self._contact = Contact(settings.debounce_s)
        self._now_ns = now_ns
        self._pause = time.sleep if pause is None else pause

    def presses(self) -> Iterator[int]:
        """Looks, again and again."""
        wanted = self._settings.pressed == "on"
        for _ in range(round(WAIT_S / LOOK_S)):
            is_on = getattr(self._lines, self._settings.line)
            time_ns = self._now_ns()
            if self._contact.is_pressed(is_on is wanted, time_ns):
                yield time_ns
            self._pause(LOOK_S)
