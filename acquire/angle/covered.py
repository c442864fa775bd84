"""How far around the readings of a sweep that have an angle reach, by the rule of the final tags.

A reading has an angle once the crank's position is known both before and after it, with no break in
between, or within the reach of a lone known position (`tagger`). So a sweep that ends by itself ends on
readings that its result will hold. Pure, and of bounded memory.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque

# Nanoseconds before or after a mark within which a reading still counts as taken there: a foot on a pedal
# and a free-running gauge meet no closer. What the crank may have turned meanwhile enters the uncertainty.
MARK_REACH_NS = 200_000_000
# Known positions looked back upon, for readings that come later than their time: some seconds of an encoder.
KNOWN_KEPT = 256
# Readings that wait for the next known position; beyond it those in the middle are let go: between two
# positions only the first and the last can reach farthest.
WAITING_KEPT = 1_024


class Covered:
    """Known positions and readings go in as they come; angles in microdegrees, times in nanoseconds."""

    __slots__ = ("_angles", "_from_ns", "_is_first_kept", "_reach_ns", "_times", "_waiting", "high", "low")

    def __init__(self, reach_ns: int) -> None:
        self._reach_ns = reach_ns
        self.low: int | None = None
        self.high = 0
        self._times: deque[int] = deque(maxlen=KNOWN_KEPT)
        self._angles: deque[int] = deque(maxlen=KNOWN_KEPT)
        self._is_first_kept = True
        self._from_ns: int | None = None
        self._waiting: deque[int] = deque()

    @property
    def span(self) -> int:
        """From the lowest to the highest angle of a reading."""
        return 0 if self.low is None else self.high - self.low

    def take_known(self, time_ns: int, angle: int) -> None:
        """Where the crank is, unwrapped; what waited in between has its angle now."""
        earliest = self._times[-1] if self._times else self._from_ns
        if earliest is not None and time_ns < earliest:
            return
        self._is_first_kept = self._is_first_kept and len(self._times) < KNOWN_KEPT
        self._times.append(time_ns)
        self._angles.append(angle)
        while self._waiting and self._waiting[0] <= time_ns:
            self._tag(self._waiting.popleft())

    def take_reading(self, time_ns: int) -> None:
        """A reading of the sweep's gauge."""
        if self._times and time_ns <= self._times[-1]:
            self._tag(time_ns)
            return
        self._waiting.append(time_ns)
        if len(self._waiting) > WAITING_KEPT:
            del self._waiting[1]
        if self._times and time_ns - self._times[-1] <= self._reach_ns:
            self.take_angle(self._angles[-1])

    def take_angle(self, angle: int) -> None:
        """A reading whose angle came with it."""
        self.high = angle if self.low is None else max(self.high, angle)
        self.low = angle if self.low is None else min(self.low, angle)

    def break_off(self, from_ns: int | None) -> None:
        """Nothing is known of the crank from here to the next known position, which is not of before
        from_ns; None: times begin anew."""
        self._from_ns = from_ns
        self._times.clear()
        self._angles.clear()
        self._waiting.clear()
        self._is_first_kept = True

    def _tag(self, time_ns: int) -> None:
        """A reading that is not later than the last known position."""
        after = bisect_right(self._times, time_ns)
        if after == 0:
            if self._is_first_kept and self._times[0] - time_ns <= self._reach_ns:
                self.take_angle(self._angles[0])
            return
        if after == len(self._times):
            self.take_angle(self._angles[-1])
            return
        t0, t1, a0, a1 = (
            self._times[after - 1],
            self._times[after],
            self._angles[after - 1],
            self._angles[after],
        )
        self.take_angle(a0 + round((a1 - a0) * (time_ns - t0) / (t1 - t0)))
