"""A clock that is wound by hand."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta


@dataclass(slots=True)
class HandClock:
    """A clock that moves only when told to."""

    now_ns: int = 0
    epoch: datetime = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)

    def monotonic_ns(self) -> int:
        return self.now_ns

    def utc(self) -> datetime:
        return self.epoch + timedelta(microseconds=self.now_ns / 1000)

    def advance_to(self, time_ns: int) -> None:
        """Move forward; never back, as a monotonic clock does."""
        self.now_ns = max(self.now_ns, time_ns)
