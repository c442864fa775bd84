"""A capture, played as if it came over a line: `capture:FILE`, or `capture:FILE?speed=20` for a quicker one.

Pieces come as far apart as they did, those after a request when it is made again. Nothing comes after the
last, as of a gauge that was switched off: the port stays open, and plays nothing twice. A gauge that is asked
when its key is pressed was asked then: its modem line, whichever that is, changes as a request is due.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from pathlib import Path

from drivers.capture import Capture, read_capture
from drivers.errors import CaptureError, PortAbsentError, PortError
from drivers.transports.base import READ_TIMEOUT_S, OpenPort

CAPTURE = "capture:"
"""What such a port's name begins with."""
SPEED, SPEED_MAX = "speed=", 1e6
# How long its key is held down, s, and after how long it is pressed again where nobody asked.
PRESSED_S, AGAIN_S = 0.1, 0.2


class CapturePort:
    """A port without a descriptor. speed: how many times as fast as it was."""

    def __init__(self, capture: Capture, speed: float) -> None:
        self.in_waiting = 0
        self._pieces = deque(capture.pieces)
        self._per_s = speed * 1e9
        self._changed = threading.Condition()
        self._from_ns, self._from_s = 0, time.monotonic()

    def fileno(self) -> int:
        """There is none."""
        raise OSError("a capture has no descriptor")

    def read(self, size: int = 1, /) -> bytes:  # noqa: ARG002 whole pieces, as they came
        """The next piece once its time has come; nothing after READ_TIMEOUT_S."""
        give_up_s = time.monotonic() + READ_TIMEOUT_S
        with self._changed:
            while True:
                now_s = time.monotonic()
                due_s = give_up_s
                if self._pieces and not self._pieces[0].sent:
                    due_s = self._due_s()
                    if due_s <= now_s:
                        return self._pieces.popleft().data
                if now_s >= give_up_s:
                    return b""
                self._changed.wait(min(due_s, give_up_s) - now_s)

    def write(self, data: bytes, /) -> int:
        """A request: what followed one in the capture follows now."""
        with self._changed:
            while self._pieces and not self._pieces[0].sent:  # an answer that came too late for its request
                self._pieces.popleft()
            if self._pieces:
                self._from_ns, self._from_s = self._pieces.popleft().time_ns, time.monotonic()
            self._changed.notify()
        return len(data)

    @property
    def cts(self) -> bool:
        """Whether its key is down."""
        with self._changed:
            if not self._pieces or not self._pieces[0].sent:
                return False
            since_s = time.monotonic() - self._due_s()
            return since_s >= 0 and since_s % AGAIN_S < PRESSED_S

    dsr = ri = cd = cts

    def _due_s(self) -> float:
        """When the next piece comes, or is asked for."""
        return self._from_s + (self._pieces[0].time_ns - self._from_ns) / self._per_s

    def close(self) -> None:
        """Nothing more comes."""
        with self._changed:
            self._pieces.clear()


def named(name: str) -> tuple[Path, float]:
    """File and speed of `FILE` or `FILE?speed=20`. Raises CaptureError where that is none."""
    path, mark, option = name.partition("?")
    if not mark:
        return Path(path), 1.0
    try:
        speed = float(option.removeprefix(SPEED)) if option.startswith(SPEED) else 0.0
    except ValueError:
        speed = 0.0
    if not 0 < speed <= SPEED_MAX:
        raise CaptureError(f"{name}: expected nothing after the file, or a speed such as ?{SPEED}20")
    return Path(path), speed


def open_capture(name: str) -> OpenPort:
    """Begin to play it. Raises PortAbsentError or PortError."""
    try:
        path, speed = named(name.removeprefix(CAPTURE))
        return CapturePort(read_capture(path), speed)
    except CaptureError as error:
        raise PortError(str(error)) from error
    except OSError as error:
        raise PortAbsentError(
            f"{error.filename} cannot be read ({error.strerror}): give a capture's file"
        ) from error
