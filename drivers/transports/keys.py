"""Keys to characters: what a gauge that types has typed. Pure.

Codes are those of the kernel (linux/input-event-codes.h): they stand for places on the board, so that what is
on a key depends on the layout for which the gauge types. The numeric pad is the same on all.
"""

from __future__ import annotations

import struct
from typing import Literal

# struct input_event of a 64-bit kernel: seconds and microseconds, type, code, value (linux/input.h).
EVENT = struct.Struct("@llHHi")
EV_SYN, SYN_REPORT, SYN_DROPPED = 0, 0, 3
EV_KEY, RELEASED, PRESSED = 1, 0, 1

UNREAD = 0x1A
"""Stands for a key that is no character, and for keys that were lost: the SUB of ISO 646, which is in no
reading, so that a line with it is rejected."""

_ROWS = (range(2, 14), range(16, 28), range(30, 42), range(43, 44), range(44, 54), range(86, 87))
"""The four rows of keys; the two places that lie elsewhere from board to board stand alone."""
_PLAIN = {
    "us": ("1234567890-=", "qwertyuiop[]", "asdfghjkl;'`", "\\", "zxcvbnm,./", "<"),
    "german": ("1234567890ß´", "qwertzuiopü+", "asdfghjklöä^", "#", "yxcvbnm,.-", "<"),
    "french": ("&é\"'(-è_çà)=", "azertyuiop^$", "qsdfghjklmù²", "*", "wxcvbn,;:!", "<"),
}
_SHIFTED = {
    "us": ("!@#$%^&*()_+", "QWERTYUIOP{}", 'ASDFGHJKL:"~', "|", "ZXCVBNM<>?", ">"),
    "german": ('!"§$%&/()=?`', "QWERTZUIOPÜ*", "ASDFGHJKLÖÄ°", "'", "YXCVBNM;:_", ">"),
    "french": ("1234567890°+", "AZERTYUIOP¨£", "QSDFGHJKLM%²", "µ", "WXCVBN?./§", ">"),
}
_PAD = dict(zip((*range(71, 84), 55, 98, 117, 121), "789-456+1230.*/=,", strict=True))
_ANYWHERE = _PAD | {28: "\n", 96: "\n", 15: "\t", 57: " "}
_SHIFTS = frozenset({42, 54})
_OTHERS_HELD = frozenset({29, 56, 97, 100, 125, 126})
"""Control, alternative and meta: with one of them held a key is no character."""
_LOCK = 69
"""Of the numeric pad, which types figures here whatever it is set to."""

Layout = Literal["us", "german", "french"]


class Keys:
    """One board's keys. layout: for which it types. decimal_comma: a comma is written as a point."""

    def __init__(self, layout: Layout, *, decimal_comma: bool = False) -> None:
        self._plain = _table(_PLAIN[layout]) | _ANYWHERE
        self._shifted = _table(_SHIFTED[layout]) | _ANYWHERE
        if decimal_comma:
            for table in (self._plain, self._shifted):
                table |= {code: "." for code, text in table.items() if text == ","}
        self._held: set[int] = set()
        self._dropping = False
        self._rest = b""

    def typed(self, events: bytes) -> bytes:
        """What the events have typed; they may be cut anywhere. A key counts when it is pressed: that the
        kernel repeats one that is held is none of the gauge's doing."""
        events = self._rest + events
        whole = len(events) - len(events) % EVENT.size
        self._rest = events[whole:]
        text = bytearray()
        for _, _, kind, code, value in EVENT.iter_unpack(events[:whole]):
            if kind == EV_SYN and code == SYN_DROPPED:
                self._held.clear()
                self._dropping = True
                text.append(UNREAD)
            elif kind == EV_SYN and code == SYN_REPORT:
                self._dropping = False
            elif kind == EV_KEY and not self._dropping:
                text += self._key(code, value)
        return bytes(text)

    def _key(self, code: int, value: int) -> bytes:
        if code in _SHIFTS or code in _OTHERS_HELD:
            (self._held.discard if value == RELEASED else self._held.add)(code)
            return b""
        if value != PRESSED or code == _LOCK:
            return b""
        if self._held & _OTHERS_HELD:
            return bytes([UNREAD])
        table: dict[int, str] = self._shifted if self._held & _SHIFTS else self._plain
        return table.get(code, chr(UNREAD)).encode("latin-1")


def _table(rows: tuple[str, ...]) -> dict[int, str]:
    return {
        code: text
        for places, row in zip(_ROWS, rows, strict=True)
        for code, text in zip(places, row, strict=True)
    }


def places(layout: Layout) -> dict[str, tuple[int, bool]]:
    """For each character its key, and whether shift is held with it."""
    shifted = {text: (code, True) for code, text in _table(_SHIFTED[layout]).items()}
    plain = _ANYWHERE | _table(_PLAIN[layout])
    return shifted | {text: (code, False) for code, text in plain.items()}
