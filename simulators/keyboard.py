"""A gauge that types, as the kernel tells of it: records of struct input_event on a pipe at a path.

A pipe cannot be taken as an input device can (EVIOCGRAB): whoever opens it here hands in what takes it.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterable
from pathlib import Path

from drivers.transports.keys import EV_KEY, EV_SYN, EVENT, PRESSED, RELEASED, SYN_DROPPED, Layout, places

LEFT_SHIFT, NO_CHARACTER = 42, 183
"""Codes of keys: the second is F13."""


def event(kind: int, code: int, value: int) -> bytes:
    """One record."""
    now_ns = time.monotonic_ns()
    return EVENT.pack(now_ns // 1_000_000_000, now_ns // 1000 % 1_000_000, kind, code, value)


def pressed(code: int) -> bytes:
    """A key goes down and up again."""
    ends = event(EV_SYN, 0, 0)
    return event(EV_KEY, code, PRESSED) + ends + event(EV_KEY, code, RELEASED) + ends


def keys_of(text: str, layout: Layout = "us") -> Iterable[bytes]:
    """The records of each character; of one that no key has, those of a key without any."""
    board = places(layout)
    for character in text:
        code, shift = board.get(character, (NO_CHARACTER, False))
        if shift:
            yield event(EV_KEY, LEFT_SHIFT, PRESSED) + pressed(code) + event(EV_KEY, LEFT_SHIFT, RELEASED)
        else:
            yield pressed(code)


def dropped() -> bytes:
    """The kernel had no room for keys, and says so."""
    return event(EV_SYN, SYN_DROPPED, 0)


class SimKeyboard:
    """It can be plugged in and pulled out."""

    def __init__(self, path: Path, layout: Layout = "us") -> None:
        self.path = path
        self._layout: Layout = layout
        self._fd = -1

    def plug(self) -> None:
        """Raises OSError where something is at its path."""
        os.mkfifo(self.path)
        self._fd = os.open(self.path, os.O_RDWR | os.O_NONBLOCK)

    def unplug(self) -> None:
        """Whoever listens is cut off."""
        if self._fd >= 0:
            self.path.unlink()
            os.close(self._fd)
            self._fd = -1

    def type(self, text: str) -> None:
        """Key after key."""
        self.tell(b"".join(keys_of(text, self._layout)))

    def tell(self, records: bytes) -> None:
        """Just these records."""
        os.write(self._fd, records)
