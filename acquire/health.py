"""How the daemon is: everything it counts, in one message."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol, get_args

from acquire.clock import Clock
from acquire.journal.outgoing import Destination
from acquire.publisher import PublisherStatistics
from contract.health import GaugeHealth, HealthMessage, WaitingHealth
from contract.wire import rfc3339
from drivers.instrument import Instrument, InstrumentStatistics


@dataclass(frozen=True, slots=True)
class Machine:
    """What the machine has left, in bytes. disk_free: of the disk that a folder is on, for this user.
    resident: memory of this process."""

    disk_free: int
    resident: int


class Queues(Protocol):
    """The journal, as far as it is asked."""

    def queue(self, destination: Destination) -> tuple[int, int]: ...


@dataclass(slots=True)
class Health:
    """machine: asked for the folder of the journal. All of it blocks; `told` may run in any thread."""

    clock: Clock
    journal: Queues
    folder: Path
    machine: Callable[[Path], Machine]
    statistics: Callable[[], PublisherStatistics]
    instruments: Sequence[tuple[str, Instrument]] = ()
    _began_ns: int = field(init=False)
    _first: dict[str, tuple[int, int]] = field(default_factory=dict, init=False)
    """Destination → the row that waits longest, and since when it was seen to."""

    def __post_init__(self) -> None:
        self._began_ns = self.clock.monotonic_ns()

    def told(self) -> HealthMessage:
        """How it stands now. Raises JournalError or OSError."""
        now_ns, machine, published = self.clock.monotonic_ns(), self.machine(self.folder), self.statistics()
        return HealthMessage(
            time=rfc3339(self.clock.utc()),
            up_s=_seconds(now_ns - self._began_ns),
            gauges={gauge: _gauge(instrument.statistics()) for gauge, instrument in self.instruments},
            readings_sent=published.readings_sent,
            readings_dropped=published.readings_dropped,
            connects=published.connects,
            outbox={destination: self._waiting(destination, now_ns) for destination in get_args(Destination)},
            disk_free_bytes=machine.disk_free,
            resident_bytes=machine.resident,
        )

    def _waiting(self, destination: Destination, now_ns: int) -> WaitingHealth:
        waiting, first = self.journal.queue(destination)
        if not waiting:
            self._first.pop(destination, None)
            return WaitingHealth(waiting=0, oldest_s=0.0)
        row, since_ns = self._first.get(destination, (first, now_ns))
        if row != first:
            since_ns = now_ns
        self._first[destination] = first, since_ns
        return WaitingHealth(waiting=waiting, oldest_s=_seconds(now_ns - since_ns))


def _gauge(counts: InstrumentStatistics) -> GaugeHealth:
    of = counts.assembly
    return GaugeHealth(
        readings=of.readings,
        frames=of.frames,
        rejected=of.rejected,
        overlong=of.overlong,
        halves=of.halves,
        bytes_in=of.bytes_in,
        bytes_discarded=of.bytes_discarded,
        bytes_lost=of.bytes_lost,
        openings=counts.openings,
        failures=counts.failures,
        unanswered=counts.unanswered,
    )


def _seconds(ns: int) -> float:
    return round(ns / 1e9, 1)
