"""Which readings something that runs takes: its own gauge's and encoder's, each once."""

from __future__ import annotations

from acquire.journal.events import Event, GaugeAway, GaugeBack, Resumed, SweepBegun
from drivers.reading import Reading


class Intake:
    """lost: readings of the gauge that holes in its numbering say were lost. kept: how many were taken, the
    encoder's too. away: gauges that are not there now."""

    def __init__(self, begun: SweepBegun) -> None:
        self.gauge = begun.gauge.id
        self.encoder = begun.angle.gauge
        self.lost = self.kept = 0
        self.away: set[str] = set()
        self._since_ns = begun.time_ns
        self._numbers: dict[str, int] = {}

    def takes(self, reading: Reading) -> bool:
        """Whether it is taken; not where it is of another gauge, heard before, or the gauge's from before
        this began."""
        gauge, number = reading.gauge, reading.seq
        if gauge not in (self.gauge, self.encoder):
            return False
        last = self._numbers.get(gauge)
        if last is not None and number <= last:
            return False
        if gauge == self.gauge:
            if reading.time_ns < self._since_ns:
                return False
            if last is not None:
                self.lost += number - last - 1
        self._numbers[gauge] = number
        self.kept += 1
        return True

    def hear(self, event: Event) -> None:
        """What an event says of the gauges."""
        match event:
            case GaugeAway():
                self.away.add(event.gauge)
            case GaugeBack():
                self.away.discard(event.gauge)
            case Resumed():  # drivers count anew, and the monotonic clock may
                self._numbers.clear()
                self._since_ns = event.time_ns
            case _:
                pass
