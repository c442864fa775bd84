"""The archetype of lines; the gauge sends first, or answers a request (common practice, no source):

byte   0        1    …    8   9   10
       +  0  0  1  .  2  3  4  CR  LF
       └────── data ───────┘  └ terminator
"""

from __future__ import annotations

from config.profile import LineFraming
from drivers.errors import EncodeError
from drivers.framings.base import Frame, FramingStatistics


class LineFramer:
    """Cuts a stream of bytes at its terminators.

    hunting: the stream may begin within a frame, and go on within another after a pause that cut
    one; all up to the next terminator is then thrown away.
    """

    def __init__(self, framing: LineFraming, *, hunting: bool = False) -> None:
        self._terminator = framing.terminator_bytes
        self.marks_bytes = len(self._terminator)
        self._max_bytes = framing.max_bytes
        # A longer rest cannot become a frame: only the terminator's beginning may still be in it.
        self._max_rest = framing.max_bytes + len(self._terminator) - 1
        self._pause_ns = round(framing.max_pause_s * 1e9)
        self._rest = b""
        self._hunting = self._skipping = hunting
        self._last_ns = 0
        self._frames = self._overlong = self._halves = self._discarded = 0
        self.bytes_in = 0

    def feed(self, data: bytes, time_ns: int) -> list[Frame]:
        """The frames that `data`, which came at `time_ns`, completes."""
        return [Frame(piece, time_ns) for piece in self.split(data, time_ns)]

    def split(self, data: bytes, time_ns: int) -> list[bytes]:
        """As `feed`, the bare data of each frame: all of them ended at `time_ns`."""
        if self._rest and time_ns - self._last_ns > self._pause_ns:
            self.restart()
        self._last_ns = time_ns
        self.bytes_in += len(data)
        pieces = (self._rest + data).split(self._terminator)
        rest = pieces.pop()
        if pieces:
            if self._skipping:
                self._skipping = False
                self._discarded += len(pieces.pop(0))
            if pieces and len(max(pieces, key=len)) > self._max_bytes:
                pieces = self._without_overlong(pieces)
            self._frames += len(pieces)
        if len(rest) > self._max_rest or self._skipping:
            rest = self._skip(rest)
        self._rest = rest
        return pieces

    def restart(self, *, hunting: bool | None = None) -> None:
        """What is kept of a frame can never be completed: throw it away, counted, and begin anew.

        hunting: whether what comes now may begin within a frame; else as when made.
        """
        if self._rest and not self._skipping:
            self._halves += 1
        self._discarded += len(self._rest)
        self._rest = b""
        self._skipping = self._hunting if hunting is None else hunting

    @property
    def lost(self) -> int:
        """Frames known to be lost so far."""
        return self._overlong + self._halves

    def statistics(self) -> FramingStatistics:
        """A snapshot."""
        return FramingStatistics(self._frames, self._overlong, self._halves, self.bytes_in, self._discarded)

    def wrap(self, data: bytes) -> bytes:
        """The frame for this data. Raises EncodeError where it would not be cut out again as it is."""
        frame = data + self._terminator
        if len(data) > self._max_bytes or frame.find(self._terminator) != len(data):
            raise EncodeError(f"expected at most {self._max_bytes} bytes and no terminator, got {data!r}")
        return frame

    def _without_overlong(self, pieces: list[bytes]) -> list[bytes]:
        kept = [piece for piece in pieces if len(piece) <= self._max_bytes]
        self._overlong += len(pieces) - len(kept)
        self._discarded += sum(map(len, pieces)) - sum(map(len, kept))
        return kept

    def _skip(self, rest: bytes) -> bytes:
        if not self._skipping:
            self._overlong += 1
            self._skipping = True
        keep = len(self._terminator) - 1
        tail = rest[len(rest) - keep :] if keep and len(rest) > keep else rest if keep else b""
        self._discarded += len(rest) - len(tail)
        return tail
