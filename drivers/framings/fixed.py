"""The archetype of frames of one length, as older indicators send them (common practice, no source):

    byte   0      1     2     3     4     5        0
           FA    80    00    19    03    EE       FA
           └ start └────── data ────────┘ pause   └ start

The gauge sends first, or answers a request. The start byte may be a few bits of the first byte, or
be wanting; then the pause alone tells where a frame begins.
"""

from __future__ import annotations

import re

from config.profile import FixedFraming
from drivers.errors import EncodeError
from drivers.framings.counting import CountingFramer


class FixedFramer(CountingFramer):
    """Cuts a stream of bytes into frames of one length.

    A start byte always begins a frame, and one that comes early says that the frame before is cut;
    bytes between a whole frame and the next start byte are thrown away, and tell of one frame lost.
    hunting: the stream may begin within a frame. With a start byte all before the first is thrown
    away; without one all before the first pause, and a stream without pauses is never read.
    """

    def __init__(self, framing: FixedFraming, *, hunting: bool = False) -> None:
        super().__init__(framing.max_pause_s, hunting=hunting)
        self._length = framing.length
        self._mask = framing.start_mask
        self._start = framing.start_byte
        self._is_start = framing.begins
        starts = bytes(byte for byte in range(256) if framing.begins(byte))
        self._starts = re.compile(b"[" + re.escape(starts) + b"]") if starts else None
        self._data_bytes = framing.data_bytes
        self.marks_bytes = framing.length - framing.data_bytes

    def _begin_after_pause(self) -> None:
        if self._starts is None:
            self._skipping = False

    def _cut(self, stream: bytes) -> list[bytes]:
        return self._by_length(stream) if self._starts is None else self._by_start(stream, self._starts)

    def wrap(self, data: bytes) -> bytes:
        """The frame for this data. Raises EncodeError where it would not be cut out again as it is."""
        start = self._start
        if start is None:
            frame = data
        elif self.marks_bytes:
            frame = bytes([start]) + data
        else:
            frame = bytes([data[0] | start]) + data[1:] if data and not data[0] & self._mask else b""
        starts = [n for n, byte in enumerate(frame) if self._is_start(byte)]
        if len(frame) != self._length or starts != ([] if start is None else [0]):
            expected = f"{self._data_bytes} bytes of data, with a start byte as none of them"
            raise EncodeError(f"expected {expected}, got {data!r}")
        return frame

    def _by_length(self, stream: bytes) -> list[bytes]:
        if self._skipping:
            self._discarded += len(stream)
            return []
        whole = len(stream) - len(stream) % self._length
        self._rest = stream[whole:]
        return [stream[n : n + self._length] for n in range(0, whole, self._length)]

    def _by_start(self, stream: bytes, starts: re.Pattern[bytes]) -> list[bytes]:
        places = [found.start() for found in starts.finditer(stream)]
        self._stray(places[0] if places else len(stream))
        pieces: list[bytes] = []
        self._rest = b""
        for n, place in enumerate(places):
            end = places[n + 1] if n + 1 < len(places) else len(stream)
            self._skipping = False
            if end - place >= self._length:
                pieces.append(self._bare(stream[place : place + self._length]))
                self._stray(end - place - self._length)
            elif n + 1 < len(places):
                self._throw(end - place)
            else:
                self._rest = stream[place:]
        return pieces

    def _bare(self, frame: bytes) -> bytes:
        return frame[1:] if self.marks_bytes else bytes([frame[0] & ~self._mask]) + frame[1:]
