"""An encoder on the crank, or geared to it: a position with each of its frames."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from acquire.angle.source import TURN_UDEG
from acquire.journal.events import AngleStated, Mark
from contract.units import UDEG_PER_DEG
from drivers.reading import Reading

if TYPE_CHECKING:
    from acquire.angle.spell import Spell
    from acquire.angle.tags import Tags

# A sweep ends by itself after one turn and 5 degrees of overlap: enough to compare start and end.
FULL_UDEG = 365 * UDEG_PER_DEG
# An index further off is worth a word while it is barred: so far the crank may go between two frames.
INDEX_OFF_UDEG = 10 * UDEG_PER_DEG


class Counter:
    """An encoder's values as they come, unwrapped the shorter way: what it has counted since the first."""

    __slots__ = ("_last", "_wraps_at", "total")

    def __init__(self, wraps_at: int) -> None:
        self._wraps_at = wraps_at
        self._last: int | None = None
        self.total = 0

    def take(self, value: int) -> int:
        """One value; by how much it differs from the one before."""
        half = self._wraps_at // 2
        step = 0 if self._last is None else (value - self._last + half) % self._wraps_at - half
        self._last = value
        self.total += step
        return step


class IndexWatch:
    """Whether an encoder's index comes where it came before, for the eye: the final tags know it better.

    off_udeg: by how much it did not, microdegrees of the crank, all together."""

    def __init__(self, stated: AngleStated) -> None:
        self._every = TURN_UDEG / stated.gear
        self._place: float | None = None
        self.off_udeg = 0.0

    def passed(self, angle_udeg: int) -> None:
        """It was passed just before this angle."""
        if self._place is None:
            self._place = angle_udeg
        off = (angle_udeg - self._place + self._every / 2) % self._every - self._every / 2
        if abs(off) > INDEX_OFF_UDEG:
            self.off_udeg += off
            self._place += off


class Encoder:
    """One as stated. u_time_ns: what the latencies of gauge and encoder leave uncertain, together."""

    reach_ns = 0
    full_udeg = FULL_UDEG

    def __init__(self, stated: AngleStated, u_time_ns: float) -> None:
        self._stated, self._u_time_ns = stated, u_time_ns
        self._udeg = (-1 if stated.reversed else 1) * TURN_UDEG / (stated.per_turn * stated.gear)
        # Half of what holds the crank with 95 % where all of a step is as likely: `crossings`.
        self.live_u_deg = abs(self._udeg) * stated.step / UDEG_PER_DEG * 0.95 / 4.0
        self._counter = Counter(stated.wraps_at)
        self._start: int | None = None

    def heard(self, reading: Reading) -> int | None:
        """One value of the encoder, unwrapped the shorter way."""
        if self._start is None:
            self._start = reading.value % self._stated.wraps_at
        self._counter.take(reading.value)
        return round((self._start + self._counter.total) * self._udeg)

    def zero_udeg(self, zero: int) -> int:
        """Where the timing mark is, of the angles that `heard` gives. zero: as it is stated of a sweep."""
        return round(((self._start or 0) + zero) * self._udeg)

    def marked(self, mark: Mark) -> int | None:  # noqa: ARG002 (all sources are told)
        """It knows better."""
        return None

    def tags(self, spells: Sequence[Spell]) -> list[Tags]:
        """Between its frames, by where they change; nothing while it was away."""
        from acquire.angle.frames import tags_by_frames  # heavy: see acquire.bay.evidence

        return tags_by_frames(self._stated, self._u_time_ns, spells)
