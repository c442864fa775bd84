"""Bytes that came with a wrong parity or stop bit, where the kernel tells them (termios(3), PARMRK).

    FF 00 xx    xx came wrong
    FF FF       FF came

A pseudo-terminal knows no wrong bytes, and marks FF all the same. What came wrong is no byte of any frame.
"""

from __future__ import annotations

import termios

from config.profile import PortSettings, SerialPort
from drivers.transports.base import OpenPort

_MARK, _WRONG = 0xFF, 0x00


class ErrorMarks:
    """Takes the marks out of one stream."""

    def __init__(self) -> None:
        self._rest = b""

    def taken(self, data: bytes) -> list[tuple[int, bytes]]:
        """What came, in pieces: how many bytes came wrong before each, and its bytes."""
        data, self._rest = self._rest + data, b""
        if _MARK not in data:
            return [(0, data)]
        pieces: list[tuple[int, bytes]] = []
        wrong, good, at = 0, bytearray(), 0
        while at < len(data):
            mark = data.find(_MARK, at)
            if mark < 0:
                good += data[at:]
                break
            good += data[at:mark]
            marked = data[mark + 1 : mark + 3]
            if not marked or (marked[0] == _WRONG and len(marked) < 2):
                self._rest = data[mark:]
                break
            if marked[0] == _WRONG:
                if good:
                    pieces.append((wrong, bytes(good)))
                    wrong, good = 0, bytearray()
                wrong += 1
                at = mark + 3
            else:
                good.append(_MARK)
                at = mark + 1 + (marked[0] == _MARK)
        if wrong or good:
            pieces.append((wrong, bytes(good)))
        return pieces


def mark_errors(port: OpenPort, settings: PortSettings) -> ErrorMarks | None:
    """Have wrong bytes of an open serial port marked; None where nobody can tell them."""
    if not isinstance(settings, SerialPort):
        return None
    try:
        fd = port.fileno()
        flags = termios.tcgetattr(fd)
        flags[0] |= termios.INPCK | termios.PARMRK
        flags[0] &= ~(termios.IGNPAR | termios.ISTRIP)
        termios.tcsetattr(fd, termios.TCSANOW, flags)
    except (OSError, AttributeError, ValueError, termios.error):
        return None
    return ErrorMarks()
