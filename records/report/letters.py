"""Which letters the fonts that ship have: one that they lack is written out, never left out."""

from __future__ import annotations

import struct
from collections.abc import Collection
from functools import cache
from pathlib import Path

FONTS = Path(__file__).parent / "fonts"

JOINERS = "\u200c\u200d"
"""Not seen themselves, and needed between letters of some scripts."""


def visible(text: str, known: Collection[str] | None = None) -> str:
    """The text with nothing in it that a reader would not see: line breaks become spaces, controls and
    marks of direction, and letters that are not among the known ones, their numbers: `[U+6F22]`."""
    return "".join(_letter(letter, known) for letter in text)


def _letter(letter: str, known: Collection[str] | None) -> str:
    if letter in "\n\r\t\v\f\u2028\u2029":
        return " "
    is_seen = letter.isprintable() or letter in JOINERS
    return letter if is_seen and (known is None or letter in known) else f"[U+{ord(letter):04X}]"


@cache
def known_letters() -> frozenset[str]:
    """Those that every one of our fonts has."""
    return frozenset.intersection(*(_letters(file) for file in sorted(FONTS.glob("*.ttf"))))


def _letters(file: Path) -> frozenset[str]:
    """Those of one font: its `cmap` table, format 12 (OpenType specification, cmap)."""
    data = file.read_bytes()
    (tables,) = struct.unpack_from(">H", data, 4)
    entries = (struct.unpack_from(">4sLLL", data, 12 + 16 * n) for n in range(tables))
    at = next(offset for tag, _, offset, _ in entries if tag == b"cmap")
    (count,) = struct.unpack_from(">H", data, at + 2)
    for n in range(count):
        (offset,) = struct.unpack_from(">L", data, at + 8 + 8 * n)
        form, _, _, _, groups = struct.unpack_from(">HHLLL", data, at + offset)
        if form == 12:
            ranges = (struct.unpack_from(">LLL", data, at + offset + 16 + 12 * g) for g in range(groups))
            return frozenset(chr(code) for first, last, _ in ranges for code in range(first, last + 1))
    raise ValueError(f"{file.name}: no cmap of format 12")
