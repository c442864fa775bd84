"""Virtual gauges and encoders that speak a profile's own format, through the drivers' encode."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from config.profile import GaugeProfile
from contract.units import NM_PER_MM, UDEG_PER_DEG
from drivers.encoding import Encoder
from simulators.barring import NS_PER_S, Crank
from simulators.damper import Damper

# What an instrument feels at a time, in the profile's whole unit (nm, udeg, count), not yet quantised.
Quantity = Callable[[int], float]

TURN_UDEG = 360 * UDEG_PER_DEG


@dataclass(slots=True)
class SimGauge:
    """One instrument: what it does to the true value on its way to the wire.

    resolution, noise, offset: whole units of the profile's value (nm, udeg or count); noise is the
    standard deviation of a normal distribution. span_error: relative, so that 0.01 reads 1 % too
    much. drift_per_s: units a second, from time 0. wrap: the display starts again at 0 there, as a
    box that shows the angle within one turn. period_s: between two readings of a free-running one,
    shorter by up to twice `jitter` of it. rng: the gauge's own generator; the same seed gives the
    same bytes.
    """

    profile: GaugeProfile
    rng: random.Random
    resolution: int = 1
    noise: float = 0.0
    offset: float = 0.0
    span_error: float = 0.0
    drift_per_s: float = 0.0
    wrap: int | None = None
    period_s: float = 0.02
    jitter: float = 0.02
    _encoder: Encoder = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._encoder = Encoder(self.profile)

    def shown(self, true: float, time_ns: int) -> int:
        """What the display shows of a true value: a whole multiple of its resolution."""
        felt = true * (1.0 + self.span_error) + self.offset + self.drift_per_s * time_ns / NS_PER_S
        if self.noise > 0.0:
            felt += self.rng.gauss(0.0, self.noise)
        shown = round(felt / self.resolution) * self.resolution
        return shown if self.wrap is None else shown % self.wrap

    def stream(
        self, quantity: Quantity, *, start_ns: int, until_ns: int | None = None
    ) -> Iterator[tuple[int, bytes]]:
        """A free-running gauge's frames with the times at which their last bytes arrive; endless
        without `until_ns`. Each measures the stated latency, with its spread, earlier.
        """
        pace_s = self.profile.manner.own_pace_s
        if pace_s is None:
            raise ValueError(f"{self.profile.id} does not send by itself; use answer or press")
        if self.period_s > pace_s:
            raise ValueError(f"{self.profile.id} sends at least every {pace_s} s")
        period_ns = self.period_s * NS_PER_S
        measured_ns, arrived_ns = start_ns, 0
        while until_ns is None or measured_ns < until_ns:
            arrived_ns = max(arrived_ns, measured_ns + self._latency_ns())
            yield arrived_ns, self._encoder.frame(self.shown(quantity(measured_ns), measured_ns))
            measured_ns += max(round(period_ns * (1.0 - self.rng.uniform(0.0, 2.0 * self.jitter))), 1)

    def answer(self, request: bytes, quantity: Quantity, time_ns: int) -> list[tuple[int, bytes]]:
        """What a requested gauge sends back to `request`; nothing to what it does not know."""
        asked_by = self.profile.manner.request_bytes
        if asked_by is None:
            raise ValueError(f"{self.profile.id} does not wait for requests; use stream or press")
        times = request.count(asked_by)
        return [self.press(quantity, time_ns) for _ in range(times)]

    def press(self, quantity: Quantity, time_ns: int) -> tuple[int, bytes]:
        """One frame for what is felt now, as a key press gives it."""
        return time_ns + self._latency_ns(), self._encoder.frame(self.shown(quantity(time_ns), time_ns))

    def _latency_ns(self) -> int:
        latency = self.profile.latency
        return max(round(self.rng.gauss(latency.latency_s, latency.u_s) * NS_PER_S), 0)


def rim_nm(damper: Damper, crank: Crank) -> Quantity:
    """What a plunger on the rim feels while the crank is barred."""
    return lambda time_ns: damper.rim_mm(crank.angle_deg(time_ns)) * NM_PER_MM


def face_nm(damper: Damper, crank: Crank) -> Quantity:
    """What a plunger on the front face feels, with the crank where it is in its end float."""
    return lambda time_ns: _face_nm(damper, crank, time_ns)


def _face_nm(damper: Damper, crank: Crank, time_ns: int) -> float:
    return damper.face_mm(crank.angle_deg(time_ns), crank.float_share_at(time_ns)) * NM_PER_MM


def encoder_udeg(crank: Crank, *, reversed_: bool = False) -> Quantity:
    """What an encoder with degrees feels; its gauge wraps at `TURN_UDEG`."""
    sign = -1.0 if reversed_ else 1.0
    return lambda time_ns: sign * crank.angle_deg(time_ns) * UDEG_PER_DEG


def encoder_counts(crank: Crank, counts_per_turn: int, *, reversed_: bool = False) -> Quantity:
    """What a counting encoder feels; it counts on over the turns, below 0 too."""
    sign = -1.0 if reversed_ else 1.0
    return lambda time_ns: sign * crank.angle_deg(time_ns) / 360.0 * counts_per_turn
