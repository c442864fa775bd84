"""Keys to characters: what a gauge that types has typed. Pure.

Codes are those of the kernel (linux/input-event-codes.h): they stand for places on the board, so that what is
on a key depends on the layout for which the gauge types.
"""

from __future__ import annotations

import struct
from typing import Literal

# struct input_event of a 64-bit kernel: seconds and microseconds, type, code, value (linux/input.h).
EVENT = struct.Struct("@llHHi")
EV_SYN, SYN_REPORT, SYN_DROPPED = 0, 0, 3
EV_KEY, RELEASED, PRESSED = 1, 0, 1

SPOILT = b"\x1a"
"""All that is told of a line in which a key was no character or keys were lost: the SUB of ISO 646, which no
pattern takes for a number."""
# Far longer than any line that is a reading; seconds between two keys of one line at most.
LINE_BYTES, PAUSE_S = 256, 0.5

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
_POINT = {"us": ".", "german": ",", "french": "."}
"""What is on the pad's key of the point, the only one there that differs."""
_PAD = dict(zip((*range(71, 83), 55, 98, 117, 121), "789-456+1230*/=,", strict=True))
_ANYWHERE = _PAD | {28: "\n", 96: "\n", 15: "\t", 57: " "}
_SHIFTS = frozenset({42, 54})
_OTHERS_HELD = frozenset({29, 56, 97, 100, 125, 126})
"""Control, alternative and meta: with one of them held a key is no character."""
_LOCK = 69
"""Of the numeric pad, which types figures here whatever it is set to."""

Layout = Literal["us", "german", "french"]


class Keys:
    """One board's keys. layout: for which it types. end: the character of the key that it types last.
    settled_s: by when a line that it was typing as it was opened has begun to come.

    Lines are handed over whole, and one with anything wrong in it as SPOILT: a part of it might be a value.
    """

    def __init__(self, layout: Layout, *, end: str, settled_s: float) -> None:
        self._plain = _anywhere(layout) | _table(_PLAIN[layout])
        self._shifted = _anywhere(layout) | _table(_SHIFTED[layout])
        self._end = end.encode()
        self._settled_s = settled_s
        self._held: set[int] = set()
        self._dropping = False
        self._rest = b""
        self._line = b""
        self._last_s = 0.0

    def typed(self, events: bytes, now_s: float) -> bytes:
        """The lines that the events, which came by `now_s`, end; they may be cut anywhere.

        A key counts when it is pressed: that the kernel repeats one that is held is not the gauge's doing.
        """
        events = self._rest + events
        whole = len(events) - len(events) % EVENT.size
        self._rest = events[whole:]
        lines = b""
        if self._line and now_s - self._last_s > PAUSE_S:  # it broke off, and what comes now is another line
            lines, self._line = SPOILT + self._end, b""
        elif now_s < self._settled_s:
            self._line, self._settled_s = SPOILT, now_s
        self._last_s = now_s
        for _, _, kind, code, value in EVENT.iter_unpack(events[:whole]):
            if kind == EV_SYN and code == SYN_DROPPED:
                self._held.clear()
                self._dropping = True
                self._line = SPOILT
            elif kind == EV_SYN and code == SYN_REPORT:
                self._dropping = False
            elif kind == EV_KEY and not self._dropping:
                lines += self._key(code, value)
        return lines

    def _key(self, code: int, value: int) -> bytes:
        """The line that it ends, if any."""
        if code in _SHIFTS or code in _OTHERS_HELD:
            (self._held.discard if value == RELEASED else self._held.add)(code)
            return b""
        if value != PRESSED or code == _LOCK:
            return b""
        table: dict[int, str] = self._shifted if self._held & _SHIFTS else self._plain
        text = b"" if self._held & _OTHERS_HELD else table.get(code, "").encode("latin-1")
        if text == self._end:
            line, self._line = self._line, b""
            return line + text
        if not text or len(self._line) >= LINE_BYTES or self._line == SPOILT:
            text, self._line = SPOILT, b""
        self._line += text
        return b""


def _anywhere(layout: Layout) -> dict[int, str]:
    return _ANYWHERE | {83: _POINT[layout]}


def _table(rows: tuple[str, ...]) -> dict[int, str]:
    return {
        code: text
        for places, row in zip(_ROWS, rows, strict=True)
        for code, text in zip(places, row, strict=True)
    }


def places(layout: Layout) -> dict[str, tuple[int, bool]]:
    """For each character its key, and whether shift is held with it."""
    shifted = {text: (code, True) for code, text in _table(_SHIFTED[layout]).items()}
    plain = _anywhere(layout) | _table(_PLAIN[layout])
    return shifted | {text: (code, False) for code, text in plain.items()}
