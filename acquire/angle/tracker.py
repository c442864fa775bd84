"""Where the crank is as far as is known now, and how far it was barred back. Pure."""

from __future__ import annotations

from acquire.angle.source import TURN_UDEG
from contract.units import UDEG_PER_DEG

# Barring back by less is a hand that rests, or an encoder's last digit that flickers.
BACK_MIN_UDEG = UDEG_PER_DEG


class Backing:
    """How far and how often something that should only rise has gone back."""

    __slots__ = ("_low", "_peak", "back", "times")

    def __init__(self) -> None:
        self.back = self.times = 0
        self._peak: int | None = None
        self._low: int | None = None

    def take(self, angle: int) -> None:
        """The next position, in microdegrees."""
        if self._peak is None:
            self._peak = angle
        elif self._low is None:
            if angle >= self._peak:
                self._peak = angle
            elif self._peak - angle > BACK_MIN_UDEG:
                self.times += 1
                self.back += self._peak - angle
                self._low = angle
        elif angle < self._low:
            self.back += self._low - angle
            self._low = angle
        elif angle - self._low > BACK_MIN_UDEG:
            self._peak, self._low = angle, None


class CrankTracker:
    """Where the crank is, as far as is known now: the last known position, and how fast it moved there.

    u_deg: standard uncertainty of a position; u_time_ns: of its time against the gauge's readings.
    """

    __slots__ = ("_against", "_along", "_first", "_time_ns", "_u_deg", "_u_time_ns", "angle_udeg", "rate")

    def __init__(self, u_deg: float, u_time_ns: float) -> None:
        self._u_deg, self._u_time_ns = u_deg, u_time_ns
        self._time_ns = self._first = 0
        self._along, self._against = Backing(), Backing()
        self.angle_udeg: int | None = None
        self.rate = 0.0
        """Degrees per nanosecond, between the last two known positions."""

    def take_known(self, angle_udeg: int, time_ns: int) -> None:
        """A known position, unwrapped."""
        before = self.angle_udeg
        if before is None:
            self._first = angle_udeg
        elif time_ns > self._time_ns:
            self.rate = (angle_udeg - before) / UDEG_PER_DEG / (time_ns - self._time_ns)
        self.angle_udeg, self._time_ns = angle_udeg, time_ns
        self._along.take(angle_udeg)
        self._against.take(-angle_udeg)

    def u_deg(self, time_ns: int) -> float:
        """Standard uncertainty of the last known angle as the angle at a later time: it may have moved on."""
        age_ns = max(0, time_ns - self._time_ns)
        moved = abs(self.rate) * (age_ns**2 + self._u_time_ns**2) ** 0.5
        return float((self._u_deg**2 + moved**2) ** 0.5)

    @property
    def turn(self) -> int:
        """Full turns since the first known position."""
        return 0 if self.angle_udeg is None else abs(self.angle_udeg - self._first) // TURN_UDEG

    @property
    def backing(self) -> Backing:
        """Barring back, against the sense in which the crank has come from its first position."""
        rising = self.angle_udeg is None or self.angle_udeg >= self._first
        return self._along if rising else self._against
