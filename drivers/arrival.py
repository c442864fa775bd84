"""When frames came that were not read as they came. Pure.

The reader knows two times of each piece: since when its port had been empty, and by when the piece had been
read. Where they lie close together the frame came at the second. Where they do not, or several frames were
read at once, the frames came somewhere between:

    since                                   by
      │      ×      ×      ×      ×      ×  │
      └ empty                               └ read, five frames at once

A gauge that sends by itself at an even pace goes on doing so while nobody reads. Where going on from its
last frame at that pace puts just so many frames between the two times, each came there, within half a
period: rectangular over one period, whose standard deviation is period/√12 (JCGM 100:2008, 4.3.7). Else
nothing is known but the two times and the order: rectangular over all the time between.
"""

from __future__ import annotations

from collections import deque

# Nanoseconds between the two times that are no sign of anything: every 10 ms it is looked at each port, and
# the machine does something besides.
PROMPT_NS = 15_000_000
# Periods that the pace is taken from, and by how much of the median any of them may differ from it.
PERIODS, UNEVEN = 8, 0.25

_SQRT_12 = 12**0.5


class Arrivals:
    """The arrival times of one instrument's frames. even: whether it sends by itself, at its own pace."""

    def __init__(self, *, even: bool) -> None:
        self._even = even
        self._by_ns = 0
        self._last_ns: int | None = None
        self._periods: deque[int] = deque(maxlen=PERIODS)

    def restart(self) -> None:
        """The stream was cut: the pace must be learnt anew."""
        self._last_ns = None
        self._periods.clear()

    def of(self, number: int, since_ns: int, by_ns: int) -> tuple[list[int], int]:
        """The times of `number` frames (one or more) read at once, in order, and their standard uncertainty.

        Times never go back from one call to the next.
        """
        since_ns, self._by_ns = max(since_ns, self._by_ns), by_ns  # those before had come by then
        if number == 1 and by_ns - since_ns <= PROMPT_NS:
            if self._last_ns is not None:
                self._periods.append(by_ns - self._last_ns)
            self._last_ns = by_ns
            return [by_ns], 0
        if since_ns >= by_ns:
            return [by_ns] * number, 0
        period_ns = self._pace_ns()
        if self._last_ns is not None and period_ns is not None:
            times = [self._last_ns + n * period_ns for n in range(1, number + 1)]
            half_ns = period_ns // 2
            first_fits = times[0] >= since_ns - half_ns
            if first_fits and times[-1] <= by_ns + half_ns and times[-1] + period_ns >= by_ns - half_ns:
                times = [min(max(time, since_ns), by_ns) for time in times]
                self._last_ns = times[-1]
                return times, round(period_ns / _SQRT_12)
        span_ns = by_ns - since_ns
        self.restart()
        # The means of so many times, drawn evenly between the two and put in order.
        times = [since_ns + span_ns * n // (number + 1) for n in range(1, number + 1)]
        return times, round(span_ns / _SQRT_12)

    def _pace_ns(self) -> int | None:
        if not self._even or len(self._periods) < PERIODS:
            return None
        periods = sorted(self._periods)
        middle = periods[PERIODS // 2]
        return middle if periods[-1] - middle <= UNEVEN * middle >= middle - periods[0] else None
