"""What came over a line and when, as a text file: kept to be looked at, and to be played again.

    ringtrue capture 1
    port: 9600 8N1
    began: 2026-11-26T08:00:00.000Z

    < 104500000 5000000 2b3030302e3139300d0a
    > 600000000 726561640d
    < 614600000 5000000 2b202030
    end 10000000000 10 s are over

Keys of the head say what a person should know; none is needed. After an empty line each line is a piece: `<`
came by so many ns after the beginning, but no more than the second number earlier; `>` was sent then. Bytes
are pairs of hexadecimal digits. The last line says when and why it ended: where it is wanting, so is more.
Times are of a monotonic clock and never fall. Pure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

from drivers.errors import CaptureError

FIRST_LINE = "ringtrue capture 1"
MAX_BYTES = 16_000_000
"""The most that a capture holds: a day of a quick gauge; its file is some three times as long."""

_MAX_FILE = 8 * MAX_BYTES


@dataclass(frozen=True, slots=True)
class Piece:
    """Some bytes. time_ns: since the beginning, when they had been read, or were sent. early_ns: how much
    earlier they may have come at most."""

    time_ns: int
    data: bytes
    early_ns: int = 0
    sent: bool = False


@dataclass(frozen=True, slots=True)
class Capture:
    """A whole capture. head: keys and what they say. ended_ns, reason: when and why it ended."""

    pieces: Sequence[Piece]
    ended_ns: int
    reason: str
    head: Mapping[str, str] = field(default_factory=dict)

    @property
    def heard_bytes(self) -> int:
        """How many bytes came."""
        return sum(len(piece.data) for piece in self.pieces if not piece.sent)


def written(capture: Capture) -> str:
    """The file's text."""
    head = [FIRST_LINE, *(f"{key}: {_one_line(value)}" for key, value in capture.head.items()), ""]
    body = [
        f"> {piece.time_ns} {piece.data.hex()}"
        if piece.sent
        else f"< {piece.time_ns} {piece.early_ns} {piece.data.hex()}"
        for piece in capture.pieces
    ]
    return "\n".join([*head, *body, f"end {capture.ended_ns} {_one_line(capture.reason)}", ""])


def read_capture(path: Path) -> Capture:
    """A capture's file. Raises CaptureError with the line that is wrong, OSError where it cannot be read."""
    if path.stat().st_size > _MAX_FILE:
        raise CaptureError(f"{path}: too large for a capture (at most {_MAX_FILE // 1_000_000} MB)")
    lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    if not lines or lines[0] != FIRST_LINE:
        raise CaptureError(f"{path}: not a capture: its first line should be {FIRST_LINE!r}")
    head: dict[str, str] = {}
    pieces: list[Piece] = []
    body = lines.index("", 1) if "" in lines[1:] else len(lines)
    for line in lines[1:body]:
        key, _, value = line.partition(":")
        head[key.strip()] = value.strip()
    for number, line in enumerate(lines[body + 1 :], body + 2):
        try:
            mark, *fields = line.split(maxsplit=2 if line.startswith("end ") else 3)
            if mark == "end":
                ended_ns, reason = int(fields[0]), fields[1] if len(fields) > 1 else ""
                break
            pieces.append(_piece(mark, fields))
        except (ValueError, IndexError):
            wanted = "'< TIME EARLIER HEX', '> TIME HEX' or 'end TIME WHY'"
            raise CaptureError(f"{path}:{number}: expected {wanted}, found {line[:60]!r}") from None
    else:
        raise CaptureError(f"{path}: it was cut short: its last line, 'end …', is wanting")
    times = [*(piece.time_ns for piece in pieces), ended_ns]
    if any(later < sooner for sooner, later in pairwise(times)):
        raise CaptureError(f"{path}: its times fall: it is no capture as it was written")
    return Capture(pieces, ended_ns, reason, head)


def _piece(mark: str, fields: list[str]) -> Piece:
    """Raises ValueError."""
    if mark == "<":
        time_ns, early_ns, data = fields
        piece = Piece(int(time_ns), bytes.fromhex(data), int(early_ns))
    elif mark == ">":
        time_ns, data = fields
        piece = Piece(int(time_ns), bytes.fromhex(data), sent=True)
    else:
        raise ValueError(mark)
    if piece.time_ns < 0 or piece.early_ns < 0 or not piece.data:
        raise ValueError("nothing, or a time before the beginning")
    return piece


def _one_line(text: str) -> str:
    return " ".join(text.split())
