"""What one run of the daemon gives of a sweep: the gauge's readings, and the events beside them. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.journal.events import Event, Resumed, Sample, SweepBegun

I64 = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Readings:
    """Of one gauge, in order of time, each once: shape (n,). times and late (how uncertain a time is, for one
    that was not read as it came) in ns, values in the gauge's whole units. holes: in its numbering."""

    times: I64
    values: I64
    late: I64
    holes: int

    @classmethod
    def of(cls, samples: Iterable[Sample], since_ns: int | None = None) -> Readings:
        """Those samples, in whatever order and number they were kept; none from before since_ns."""
        once = {sample.reading: sample for sample in samples}
        rows = sorted((s.time_ns, s.reading, s.value, s.u_ns) for s in once.values())
        table = np.array(rows, dtype=np.int64).reshape(-1, 4)
        if since_ns is not None:
            table = table[table[:, 0] >= since_ns]
        numbers = np.sort(table[:, 1])
        holes = int(numbers[-1] - numbers[0]) + 1 - numbers.size if numbers.size else 0
        return cls(table[:, 0], table[:, 2], table[:, 3], holes)


@dataclass(frozen=True, slots=True)
class Spell:
    """Times are comparable within one spell only. gauge: what the sweep's gauge read; events: all of it."""

    gauge: Readings
    events: Sequence[Event]

    def readings(self, gauge: str | None) -> Readings:
        """Of another gauge."""
        return Readings.of(e for e in self.events if isinstance(e, Sample) and e.gauge == gauge)


def spells_of(begun: SweepBegun, events: Sequence[Event]) -> list[Spell]:
    """The spells of a sweep; what was read before it began is not of it."""
    spells = []
    for part in _parts(events):
        samples = (e for e in part if isinstance(e, Sample) and e.gauge == begun.gauge.id)
        since_ns = begun.time_ns if part[0] is begun else None
        spells.append(Spell(Readings.of(samples, since_ns), part))
    return spells


def _parts(events: Sequence[Event]) -> Iterator[list[Event]]:
    """The events between one start of the daemon and the next."""
    part: list[Event] = []
    for event in events:
        if isinstance(event, Resumed):
            yield part
            part = []
        part.append(event)
    yield part
