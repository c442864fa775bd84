"""The bay's encoder, watched all the time: what it counted, and where the timing mark is of that.

A sweep's angles are of the timing mark where the crank was said to stand there (`zero`), and the encoder was
not lost since. It is lost where it was away, or the daemon was, and what it says then is not what it said
last: then somebody barred the crank meanwhile, or its box began to count anew. Where it says the same, nobody
did.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from acquire.angle.encoder import Counter
from acquire.journal.events import AngleStated, Event, Sample, SweepBegun, Zeroed
from drivers.reading import Reading

# Nanoseconds: an encoder reading that is older says nothing of where the crank is now.
ENCODER_FRESH_NS = 5_000_000_000
# Degrees of the crank: an encoder that comes back within this was not lost; our own choice.
SAME_PLACE_DEG = 1.0


def tells_zero(event: Event) -> bool:
    """Whether it says where the timing mark is."""
    return isinstance(event, Zeroed) or (isinstance(event, SweepBegun) and event.angle.zero is not None)


class CrankWatch:
    """One encoder as stated. position: what it has counted since it is watched, in its whole units; since_ns:
    from when on without a break; zero: the position at which the crank is at the timing mark, where known."""

    def __init__(self, stated: AngleStated) -> None:
        self.gauge = stated.gauge
        self._stated = stated
        self._same = max(stated.step, round(stated.per_turn * stated.gear * SAME_PLACE_DEG / 360.0))
        self._counter = Counter(stated.wraps_at)
        self._last: Reading | None = None
        self._in_doubt = False
        self.since_ns: int | None = None
        self.zero: int | None = None
        self.was_lost = False
        """The timing mark was known, and is no longer."""

    @property
    def position(self) -> int:
        """What it has counted."""
        return self._counter.total

    def heard(self, reading: Reading) -> None:
        """One value of it."""
        step = self._counter.take(reading.value)
        if self.since_ns is None or (self._in_doubt and abs(step) > self._same):
            self.since_ns = reading.time_ns
            self.was_lost = self.was_lost or self.zero is not None
            self.zero = None
        self._in_doubt, self._last = False, reading

    def away(self) -> None:
        """It gives no readings now."""
        self._in_doubt = True

    def zeroed(self, event: Zeroed) -> None:
        """The crank stands at the timing mark."""
        self.zero, self.was_lost = event.position, False

    def fresh(self, now_ns: int) -> Reading | None:
        """Its last reading, where that says where the crank is now."""
        last = self._last
        is_fresh = last is not None and not self._in_doubt and now_ns - last.time_ns <= ENCODER_FRESH_NS
        return last if is_fresh else None

    def stated(self, now_ns: int) -> AngleStated:
        """As a sweep that begins now keeps it."""
        if self.fresh(now_ns) is None:
            return self._stated
        zero = None if self.zero is None else self.zero - self.position
        return replace(self._stated, position=self.position, zero=zero)

    def restore(self, events: Iterable[Event]) -> None:
        """What an inspection's events say of it, from before a restart; in doubt until it is heard."""
        for event in events:
            match event:
                case SweepBegun() if event.angle.gauge == self.gauge and event.angle.position is not None:
                    self._begin_at(event.angle.position)
                    self.zero = None if event.angle.zero is None else self.position + event.angle.zero
                case Sample() if event.gauge == self.gauge and self.since_ns is not None:
                    self._counter.take(event.value)
                case Zeroed() if event.gauge == self.gauge:
                    self._begin_at(event.position)
                    self._counter.take(event.value)
                    self.zeroed(event)
                case _:
                    pass
        self._in_doubt = True

    def _begin_at(self, position: int) -> None:
        self._counter = Counter(self._stated.wraps_at)
        self._counter.total = position
        self.since_ns = 0
