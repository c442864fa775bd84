"""What can go wrong between a wire and a reading.

DriverError (a RingtrueError)
├── FrameError            a frame is no reading; carries the frame
│   └── StatusError       its gauge says why; carries what it says
├── EncodeError           a value does not fit the frame that should carry it
├── CaptureError          a file is no capture, or not a whole one
└── PortError             a port cannot be used; the text is the reason a person reads
    ├── PortAbsentError   it is not there, or nothing plugged in has the identity asked for
    └── PortTakenError    another program holds it
"""

from __future__ import annotations

from config.errors import RingtrueError
from config.profile import Says


class DriverError(RingtrueError):
    """Anything between a wire and a reading."""


class FrameError(DriverError):
    """A frame is no reading."""

    def __init__(self, gauge: str, expected: str, frame: bytes) -> None:
        super().__init__(f"{gauge}: frame rejected: expected {expected}, got {frame!r}")
        self.gauge = gauge
        self.expected = expected
        self.frame = frame


class StatusError(FrameError):
    """A frame is no reading, and its gauge says why."""

    def __init__(self, gauge: str, expected: str, frame: bytes, says: Says) -> None:
        super().__init__(gauge, expected, frame)
        self.says = says


class EncodeError(DriverError):
    """A value does not fit the frame that should carry it."""


class CaptureError(DriverError):
    """A file is no capture, or not a whole one."""


class PortError(DriverError):
    """A port cannot be used now; it may be later."""


class PortAbsentError(PortError):
    """The port is not there, or nothing plugged in has the identity asked for."""


class PortTakenError(PortError):
    """Another program holds the port."""
