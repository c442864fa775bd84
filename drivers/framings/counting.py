"""What framers of frames of one length share: what is kept of a frame, the count of what is thrown away."""

from __future__ import annotations

from abc import ABC, abstractmethod

from drivers.framings.base import Frame, FramingStatistics


class CountingFramer(ABC):
    """hunting: the stream may begin within a frame, and go on within another after a cut."""

    def __init__(self, max_pause_s: float, *, hunting: bool) -> None:
        self._pause_ns = round(max_pause_s * 1e9)
        self._rest = b""
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
            self._begin_after_pause()
        if data:
            self._last_ns = time_ns
        self.bytes_in += len(data)
        pieces = self._cut(self._rest + data)
        self._frames += len(pieces)
        return pieces

    @abstractmethod
    def _begin_after_pause(self) -> None:
        """What comes now comes after a pause longer than any within a frame."""

    @abstractmethod
    def _cut(self, stream: bytes) -> list[bytes]:
        """The data of the whole frames in what was kept and what came; keeps what may become one."""

    def restart(self, *, hunting: bool | None = None) -> None:
        """What is kept of a frame can never be completed: throw it away, counted, and begin anew.

        hunting: whether what comes now may begin within a frame; else as when made.
        """
        if self._rest:
            self._throw(len(self._rest))
        self._rest = b""
        self._skipping = self._hunting if hunting is None else hunting

    @property
    def lost(self) -> int:
        """Frames known to be lost so far."""
        return self._halves

    def statistics(self) -> FramingStatistics:
        """A snapshot."""
        return FramingStatistics(self._frames, 0, self._halves, self.bytes_in, self._discarded)

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
