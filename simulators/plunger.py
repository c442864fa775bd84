"""What goes wrong between a surface and its indicator: each fault is plain data, laid over what is felt.

A fault takes what a sound plunger would feel (nm, by time) and gives what this one feels. `at_deg`,
`from_deg` and `until_deg` are degrees barred since the fault's first reading, either way round. A base that
has slipped stays so when the crank is barred back: what is laid must be asked in order of time, as a gauge
does, and be laid anew for another sweep.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

from simulators.barring import Crank
from simulators.gauge import Quantity


class PlungerFault(Protocol):
    """One fault."""

    def over(self, felt: Quantity, crank: Crank) -> Quantity:
        """What is felt with this fault on top of `felt`."""
        ...


@dataclass(frozen=True, slots=True)
class Off:
    """The plunger does not touch: whatever passes, the display stays at `rest_nm`."""

    rest_nm: float = 0.0

    def over(self, felt: Quantity, crank: Crank) -> Quantity:  # noqa: ARG002 all faults are laid over alike
        return lambda _: self.rest_nm


@dataclass(frozen=True, slots=True)
class EndOfTravel:
    """The base is set so that the plunger meets an end of its travel: nothing below or above shows."""

    low_nm: float = -math.inf
    high_nm: float = math.inf

    def over(self, felt: Quantity, crank: Crank) -> Quantity:  # noqa: ARG002 all faults are laid over alike
        return lambda time_ns: min(max(felt(time_ns), self.low_nm), self.high_nm)


@dataclass(frozen=True, slots=True)
class Sticking:
    """The plunger stays where it was at `from_deg` until `until_deg`, then follows again."""

    from_deg: float
    until_deg: float

    def over(self, felt: Quantity, crank: Crank) -> Quantity:
        barred, held = _Barred(crank), math.nan

        def sticking(time_ns: int) -> float:
            nonlocal held
            if not self.from_deg <= barred.most_deg(time_ns) < self.until_deg:
                held = math.nan
                return felt(time_ns)
            if math.isnan(held):
                held = felt(time_ns)
            return held

        return sticking


@dataclass(frozen=True, slots=True)
class Slip:
    """The base or the clamp gives way at `at_deg`: from there on all reads `by_nm` more."""

    at_deg: float
    by_nm: float

    def over(self, felt: Quantity, crank: Crank) -> Quantity:
        return Knock(self.at_deg, math.inf, self.by_nm).over(felt, crank)


@dataclass(frozen=True, slots=True)
class Knock:
    """The base is leant upon from `from_deg` to `until_deg`, reads `by_nm` more meanwhile, and comes back."""

    from_deg: float
    until_deg: float
    by_nm: float

    def over(self, felt: Quantity, crank: Crank) -> Quantity:
        barred = _Barred(crank)

        def knocked(time_ns: int) -> float:
            away = self.from_deg <= barred.most_deg(time_ns) < self.until_deg
            return felt(time_ns) + (self.by_nm if away else 0.0)

        return knocked


@dataclass(frozen=True, slots=True)
class Spike:
    """One reading, the first at or after `at_deg`, is off by `by_nm`."""

    at_deg: float
    by_nm: float

    def over(self, felt: Quantity, crank: Crank) -> Quantity:
        barred, is_past = _Barred(crank), False

        def spiked(time_ns: int) -> float:
            nonlocal is_past
            if is_past or barred.most_deg(time_ns) < self.at_deg:
                return felt(time_ns)
            is_past = True
            return felt(time_ns) + self.by_nm

        return spiked


class _Barred:
    """How far the crank has been barred at most since it was first asked."""

    def __init__(self, crank: Crank) -> None:
        self._crank = crank
        self._from_deg: float | None = None
        self._most_deg = 0.0

    def most_deg(self, time_ns: int) -> float:
        angle_deg = self._crank.angle_deg(time_ns)
        if self._from_deg is None:
            self._from_deg = angle_deg
        self._most_deg = max(self._most_deg, abs(angle_deg - self._from_deg))
        return self._most_deg
