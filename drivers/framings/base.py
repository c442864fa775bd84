"""What a framer is: bytes to frames, pure, knows no port and never waits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Frame:
    """One whole frame. data: without what only marks its ends. time_ns: when its last byte came."""

    data: bytes
    time_ns: int


@dataclass(frozen=True, slots=True)
class FramingStatistics:
    """What a framer has seen since it was made.

    frames: whole ones handed out. overlong: thrown away for length. halves: frames cut by a
    pause, an unplugging or lost bytes. bytes_discarded: all bytes thrown away, those of overlong
    and half frames and those before the first frame included; the marks of frames are not counted.
    """

    frames: int
    overlong: int
    halves: int
    bytes_in: int
    bytes_discarded: int


class Framer(Protocol):
    """Cuts one stream of bytes. Times handed in never fall."""

    marks_bytes: int
    """How many bytes of a frame only mark its beginning or end."""
    bytes_in: int

    def feed(self, data: bytes, time_ns: int) -> list[Frame]:
        """The frames that `data`, which came at `time_ns`, completes."""

    def split(self, data: bytes, time_ns: int) -> list[bytes]:
        """As `feed`, the bare data of each frame: all of them ended at `time_ns`."""

    def restart(self, *, hunting: bool | None = None) -> None:
        """What is kept of a frame can never be completed: throw it away, counted, and begin anew.

        hunting: whether what comes now may begin within a frame; else as when made.
        """

    @property
    def lost(self) -> int:
        """Frames known to be lost so far."""

    def statistics(self) -> FramingStatistics:
        """A snapshot."""

    def wrap(self, data: bytes) -> bytes:
        """The frame for this data, as it goes over the wire. Raises EncodeError where it would not be
        cut out again as it is."""
