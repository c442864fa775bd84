"""Streams on a virtual clock: all at once, or on real time times a speed."""

from __future__ import annotations

import asyncio
import heapq
import math
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field

# The most that is played before the loop gets its turn: with a high speed or after a stall many
# frames are due at once.
BATCH = 64


def merged(streams: Mapping[str, Iterable[tuple[int, bytes]]]) -> Iterator[tuple[int, str, bytes]]:
    """Several lines as one story, (time_ns, name, bytes) by time; the same every time."""

    def named(name: str) -> Iterator[tuple[int, str, bytes]]:
        return ((time_ns, name, data) for time_ns, data in streams[name])

    return heapq.merge(*(named(name) for name in streams), key=lambda event: event[0])


@dataclass(slots=True)
class Timeline:
    """Virtual nanoseconds from the moment it is made, `speed` of them to each real one.

    late_most_s: real seconds. A frame that is later than this makes the clock wait for it: on a
    machine that stalls the story takes longer, instead of many frames coming at once with times of
    arrival that no crank and gauge would give them.
    """

    speed: float = 1.0
    monotonic_ns: Callable[[], int] = time.monotonic_ns
    late_most_s: float = math.inf
    _origin_ns: int = field(init=False)

    def __post_init__(self) -> None:
        if not 0.0 < self.speed < math.inf:
            raise ValueError("speed must be above 0")
        self._origin_ns = self.monotonic_ns()

    def now_ns(self) -> int:
        """Virtual time."""
        return round((self.monotonic_ns() - self._origin_ns) * self.speed)

    def real_s(self, virtual_ns: int) -> float:
        """Real seconds that a virtual spell takes."""
        return virtual_ns / self.speed / 1e9

    async def until(self, virtual_ns: int) -> None:
        """Wait for a virtual time; at once where it has passed."""
        # The virtual clock may wait meanwhile.
        while (left_s := self.real_s(virtual_ns - self.now_ns())) > 0:  # noqa: ASYNC110
            await asyncio.sleep(left_s)

    def hold(self, virtual_ns: int) -> None:
        """Go back to a virtual time that has passed by more than `late_most_s`."""
        late_s = -self.real_s(virtual_ns - self.now_ns())
        if late_s > self.late_most_s:
            self._origin_ns += round(late_s * 1e9)


async def play(
    stream: Iterable[tuple[int, bytes]], write: Callable[[bytes], None], timeline: Timeline
) -> None:
    """Hand each chunk to `write` when its time comes, until the stream ends."""
    for count, (time_ns, data) in enumerate(stream):
        await timeline.until(time_ns)
        timeline.hold(time_ns)
        if count % BATCH == 0:
            await asyncio.sleep(0)
        write(data)
