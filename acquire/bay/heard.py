"""What the bay's instruments last said."""

from __future__ import annotations

from dataclasses import dataclass, field

from acquire.bay.crank import CrankWatch
from acquire.errors import CommandRefusedError
from drivers.reading import Reading
from drivers.state import GaugeState, PortState


@dataclass(frozen=True, slots=True)
class Heard:
    """last, states: by gauge id, its last reading and how its port stands; the bay keeps them true. crank:
    the encoder, where there is one."""

    last: dict[str, Reading] = field(default_factory=dict)
    states: dict[str, GaugeState] = field(default_factory=dict)
    crank: CrankWatch | None = None

    def take(self, reading: Reading) -> None:
        """One reading of any of them."""
        self.last[reading.gauge] = reading
        if self.crank is not None and reading.gauge == self.crank.gauge:
            self.crank.heard(reading)

    def stands(self, state: GaugeState) -> None:
        """How a port stands now."""
        self.states[state.gauge] = state
        if self.crank is not None and state.gauge == self.crank.gauge and state.state is not PortState.LIVE:
            self.crank.away()

    def is_connected(self, gauge: str) -> bool:
        """Whether it gives readings now."""
        state = self.states.get(gauge)
        return state is not None and state.state is PortState.LIVE

    def warnings(self, *gauges: str | None) -> list[str]:
        """What is to be seen to at these gauges although they read."""
        known = [(gauge, self.states.get(gauge)) for gauge in gauges if gauge is not None]
        return [f"{gauge}: {state.warning}" for gauge, state in known if state is not None and state.warning]

    def refuse_absent(self, gauge: str, command: str = "begin") -> None:
        """Raises CommandRefusedError where a gauge gives no readings now; one that sends at a key press, and
        has, may."""
        state = self.states.get(gauge)
        if self.is_connected(gauge) or (state is None and gauge in self.last):
            return
        why = f"{state.state.told}: {state.reason}" if state is not None else "it has not been heard yet"
        text = f"{command}: {gauge} gives no readings ({why}); see to it and {command} again"
        raise CommandRefusedError("gauge-absent", text)
