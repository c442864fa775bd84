"""Time, handed in, so that a test can wind it by hand."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """Monotonic nanoseconds, and the wall clock in UTC."""

    def monotonic_ns(self) -> int: ...

    def utc(self) -> datetime: ...


class RealClock:
    """The machine's own clocks."""

    def monotonic_ns(self) -> int:
        return time.monotonic_ns()

    def utc(self) -> datetime:
        return datetime.now(UTC)
