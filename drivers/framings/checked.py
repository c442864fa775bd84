"""The archetype of frames of one length that end in a check (common practice, no source):

    byte   0      1    2    3    4      5    6
           A5     00   00   00   BE     4B   37
           └ start └────── data ───┘     └ check

Any byte may stand anywhere: where the check is wrong, the frame does not begin there, and the next place that
could be a beginning is tried. But an exclusive or holds for a frame that comes again wherever it is begun:
with one, a stream is read from a pause on, and anew from the next where something was wrong or could be:
after bytes that got lost a frame may stand there that is another's, turned round.
"""

from __future__ import annotations

from config.profile import CheckedFraming
from drivers.errors import EncodeError
from drivers.framings.checks import check_of
from drivers.framings.counting import CountingFramer


class CheckedFramer(CountingFramer):
    """Cuts a stream of bytes into frames whose check is right.

    Bytes between two whole frames are thrown away, and tell of one frame lost. hunting: the stream may begin
    within a frame; all before the first whole one is then thrown away uncounted as a loss, and with a check
    that does not tell where a frame begins a stream without pauses is never read.
    """

    def __init__(self, framing: CheckedFraming, *, hunting: bool = False) -> None:
        super().__init__(framing.max_pause_s, hunting=hunting)
        self._length = framing.length
        self._start = b"" if framing.start_byte is None else bytes([framing.start_byte])
        self._data_bytes = framing.data_bytes
        self._end = framing.length - framing.check_bytes
        self._covered_from = 0 if framing.check.covers == "frame" else len(self._start)
        self._check = check_of(framing.check)
        self.marks_bytes = framing.length - framing.data_bytes
        self._needs_pause = framing.check.is_of_a_ring
        self._is_adrift = hunting and self._needs_pause
        self._is_after_pause = not hunting

    def _begin_after_pause(self) -> None:
        self._is_adrift = False
        self._is_after_pause = True

    def _cut(self, stream: bytes) -> list[bytes]:
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
            if self._holds(frame) and not self._may_be_turned(frame):
                self._is_after_pause = False
                pieces.append(frame[len(self._start) : self._end])
                self._skipping = False
                at = place + self._length
            else:
                self._stray(1)
                at = place + 1
                self._is_adrift = self._needs_pause
        return pieces

    def restart(self, *, hunting: bool | None = None) -> None:
        """As of all; with a check that does not tell where a frame begins, a pause must come first."""
        super().restart(hunting=hunting)
        self._is_adrift = self._skipping and self._needs_pause

    def _holds(self, frame: bytes) -> bool:
        return self._check(frame[self._covered_from : self._end]) == frame[self._end :]

    def _may_be_turned(self, frame: bytes) -> bool:
        """Whether it could as well be another, begun elsewhere; right after a pause it is not."""
        if not self._needs_pause or self._is_after_pause:
            return False
        turned = (frame[by:] + frame[:by] for by in range(1, self._length))
        return any(other.startswith(self._start) and self._holds(other) for other in turned)

    def wrap(self, data: bytes) -> bytes:
        """The frame for this data. Raises EncodeError where it would not be cut out again as it is."""
        if len(data) != self._data_bytes:
            raise EncodeError(f"expected {self._data_bytes} bytes of data, got {data!r}")
        frame = self._start + data
        return frame + self._check(frame[self._covered_from :])
