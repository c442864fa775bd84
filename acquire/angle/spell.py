"""What one run of the daemon gives of a sweep: the gauge's readings, and the events beside them. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from operator import attrgetter

import numpy as np
from numpy.typing import NDArray

from acquire.journal.events import Event, Resumed, Sample, SweepBegun

I64 = NDArray[np.int64]
_COLUMNS = tuple(map(attrgetter, ("time_ns", "reading", "value", "u_ns")))


@dataclass(frozen=True, slots=True)
class Readings:
    """Of one gauge, in order of time, each once: shape (n,). times and late (how uncertain a time is, for one
    that was not read as it came) in ns, values in the gauge's whole units. holes: in its numbering."""

    times: I64
    values: I64
    late: I64
    holes: int

    @classmethod
    def of(cls, kept: Collection[Sample], since_ns: int | None = None) -> Readings:
        """Those, in whatever order and number they were kept; none from before since_ns."""
        times, numbers, values, late = (
            np.fromiter(map(of, kept), dtype=np.int64, count=len(kept)) for of in _COLUMNS
        )
        if numbers.size and not (np.diff(numbers) > 0).all():
            # Kept more than once: as kept last.
            rows = numbers.size - 1 - np.unique(numbers[::-1], return_index=True)[1]
            times, numbers, values, late = times[rows], numbers[rows], values[rows], late[rows]
        rows = np.lexsort((numbers, times)) if (np.diff(times) < 0).any() else np.arange(times.size)
        if since_ns is not None:
            rows = rows[times[rows] >= since_ns]
        known = numbers[rows]
        holes = int(known.max() - known.min()) + 1 - known.size if known.size else 0
        return cls(times[rows], values[rows], late[rows], holes)


NO_READINGS = Readings.of(())


@dataclass(frozen=True, slots=True)
class Spell:
    """Times are comparable within one spell only. gauge: what the sweep's gauge read; events: all of it but
    readings; others: what other gauges read, by their id."""

    gauge: Readings
    events: Sequence[Event]
    others: Mapping[str, Readings] = field(default_factory=dict)

    def readings(self, gauge: str | None) -> Readings:
        """Of another gauge."""
        return self.others.get(gauge or "", NO_READINGS)


def spells_of(begun: SweepBegun, events: Sequence[Event]) -> list[Spell]:
    """The spells of a sweep; what was read before it began is not of it."""
    since_ns: int | None = begun.time_ns
    spells = []
    for samples, others in _parts(events):
        gauge = Readings.of(samples.pop(begun.gauge.id, ()), since_ns)
        read = {name: Readings.of(kept) for name, kept in samples.items()}
        spells.append(Spell(gauge, others, read))
        since_ns = None
    return spells


def _parts(events: Sequence[Event]) -> Iterator[tuple[dict[str, list[Sample]], list[Event]]]:
    """The readings by gauge, and the other events, between one start of the daemon and the next."""
    samples: defaultdict[str, list[Sample]] = defaultdict(list)
    others: list[Event] = []
    for event in events:
        if isinstance(event, Sample):
            samples[event.gauge].append(event)
            continue
        if isinstance(event, Resumed):
            yield samples, others
            samples, others = defaultdict(list), []
        others.append(event)
    yield samples, others
