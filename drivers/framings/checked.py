"""The archetype of frames of one length that end in a check (common practice, no source):

    byte   0      1    2    3    4      5    6
           A5     00   00   00   BE     4B   37
           └ start └────── data ───┘     └ check

Any byte may stand anywhere: where the check is wrong, the frame does not begin there, and the next place that
could be a beginning is tried. But an exclusive or holds for a frame that comes again wherever it is begun:
with one, a stream is read from a pause on, and anew from the next where something was wrong.
"""

from __future__ import annotations

from config.profile import CheckedFraming
from drivers.errors import EncodeError
from drivers.framings.base import Frame, FramingStatistics
from drivers.framings.checks import check_of


class CheckedFramer:
    """Cuts a stream of bytes into frames whose check is right.

    Bytes between two whole frames are thrown away, and tell of one frame lost. hunting: the stream may begin
    within a frame; all before the first whole one is then thrown away uncounted as a loss, and with a check
    that does not tell where a frame begins a stream without pauses is never read.
    """

    def __init__(self, framing: CheckedFraming, *, hunting: bool = False) -> None:
        self._length = framing.length
        self._start = b"" if framing.start_byte is None else bytes([framing.start_byte])
        self._data_bytes = framing.data_bytes
        self._end = framing.length - framing.check_bytes
        self._covered_from = 0 if framing.check.covers == "frame" else len(self._start)
        self._check = check_of(framing.check)
        self.marks_bytes = framing.length - framing.data_bytes
        self._pause_ns = round(framing.max_pause_s * 1e9)
        self._rest = b""
        self._needs_pause = framing.check.is_of_a_ring
        self._is_adrift = hunting and self._needs_pause
        self._hunting = self._skipping = hunting
        self._last_ns: int | None = None
        self._frames = self._halves = self._discarded = 0
        self.bytes_in = 0

    def feed(self, data: bytes, time_ns: int) -> list[Frame]:
        """The frames that `data`, which came at `time_ns`, completes."""
        return [Frame(piece, time_ns) for piece in self.split(data, time_ns)]

    def split(self, data: bytes, time_ns: int) -> list[bytes]:
        """As `feed`, the bare data of each frame: all of them ended at `time_ns`."""
        if self._last_ns is not None and time_ns - self._last_ns > self._pause_ns:
            if self._rest:
                self.restart()
            self._is_adrift = False  # what comes after a pause begins a frame
        if data:
            self._last_ns = time_ns
        self.bytes_in += len(data)
        stream = self._rest + data
        pieces: list[bytes] = []
        at = 0
        while True:
            if self._is_adrift:
                self._stray(len(stream) - at)
                self._rest = b""
                break
            place = stream.find(self._start, at)
            if place != at and at < len(stream) and self._needs_pause:
                self._is_adrift = True
                continue
            self._stray((len(stream) if place < 0 else place) - at)
            if place < 0 or len(stream) - place < self._length:
                self._rest = b"" if place < 0 else stream[place:]
                break
            frame = stream[place : place + self._length]
            if self._check(frame[self._covered_from : self._end]) == frame[self._end :]:
                pieces.append(frame[len(self._start) : self._end])
                self._skipping = False
                at = place + self._length
            else:
                self._stray(1)
                at = place + 1
                self._is_adrift = self._needs_pause
        self._frames += len(pieces)
        return pieces

    def restart(self, *, hunting: bool | None = None) -> None:
        """What is kept of a frame can never be completed: throw it away, counted, and begin anew.

        hunting: whether what comes now may begin within a frame; else as when made.
        """
        if self._rest:
            self._throw(len(self._rest))
        self._rest = b""
        self._skipping = self._hunting if hunting is None else hunting
        self._is_adrift = self._skipping and self._needs_pause

    @property
    def lost(self) -> int:
        """Frames known to be lost so far."""
        return self._halves

    def statistics(self) -> FramingStatistics:
        """A snapshot."""
        return FramingStatistics(self._frames, 0, self._halves, self.bytes_in, self._discarded)

    def wrap(self, data: bytes) -> bytes:
        """The frame for this data. Raises EncodeError where it would not be cut out again as it is."""
        if len(data) != self._data_bytes:
            raise EncodeError(f"expected {self._data_bytes} bytes of data, got {data!r}")
        frame = self._start + data
        return frame + self._check(frame[self._covered_from :])

    def _stray(self, size: int) -> None:
        """Bytes that belong to no frame: one is lost, unless it is known already."""
        if size and self._skipping:
            self._discarded += size
        elif size:
            self._throw(size)
            self._skipping = True

    def _throw(self, size: int) -> None:
        self._halves += 1
        self._discarded += size
