"""One simulated day at the bay: gauge, surface and truth in turn, everything else drawn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from zlib import crc32

import numpy as np

from contract.gauge import GaugeFacts
from contract.terms import Surface
from grading.evidence import F64, Sweep
from tests.grading.synthetic import (
    AngleSource,
    Form,
    Instrument,
    SurfaceShape,
    barred_path,
    known,
    random_case,
)

LIMIT_MM = 0.28
NEAR_MM = tuple(LIMIT_MM + sign * off / 1000 for off in (2, 5, 10, 20) for sign in (1, -1))
"""The truths in turn: just above and just below the limit."""
NEAR_AND_OVER_MM = (*NEAR_MM, 0.31, 0.35)
# Display step and permissible span error in mm, in turn; the last is half a thousandth of an inch.
GAUGES: tuple[tuple[float, float], ...] = ((0.01, 0.015), (0.001, 0.004), (0.0127, 0.0127))
DENSE_DEG = np.arange(0, 360, 0.05)


class Mixed:
    """extra as it is, on as much of base as makes the true TIR; where extra alone is more, extra shrinks."""

    def __init__(self, base: Callable[[F64], F64], extra: Callable[[F64], F64], tir_mm: float) -> None:
        self.base, self.extra = base, extra
        b, e = base(DENSE_DEG), extra(DENSE_DEG)
        self.share, self.size = 0.0, 1.0
        if np.ptp(e) >= tir_mm:
            self.size = tir_mm / float(np.ptp(e))
        else:
            # A range is convex in share and below the aim at 0: one crossing.
            low, high = 0.0, 2 * (tir_mm + float(np.ptp(e))) / float(np.ptp(b))
            for _ in range(50):
                self.share = (low + high) / 2
                low, high = (self.share, high) if np.ptp(self.share * b + e) < tir_mm else (low, self.share)
        values = self(DENSE_DEG)
        self.lowest, self.tir = float(values.min()), float(np.ptp(values))

    def __call__(self, angle_deg: F64) -> F64:
        """Height in mm, shape as the angles."""
        return np.asarray(self.share * self.base(angle_deg) + self.size * self.extra(angle_deg))


def away_deg(angle_deg: F64, middle_deg: float) -> F64:
    """Distance from the middle around the circle, 0 … 180."""
    return np.asarray(np.abs((angle_deg - middle_deg + 180) % 360 - 180))


@dataclass
class Take:
    """One sweep in the making, shape (n,) each: true angles, told angles and their u, seconds, what the
    gauge would show, and its noise. A regime changes any of them before it is read."""

    path: F64
    angle: F64
    angle_u: F64
    time_s: F64
    value: F64
    noise: F64

    @property
    def size(self) -> int:
        """Number of readings."""
        return self.path.size


class Day:
    """What one sweep or a few of them share. A regime may set any of it before it takes a sweep."""

    def __init__(self, seed: int, name: str, number: int, truths_mm: tuple[float, ...] = NEAR_MM) -> None:
        self.rng = rng = np.random.default_rng([seed, crc32(name.encode()), number])
        self.number = number
        self.truth_mm = truths_mm[number % len(truths_mm)]
        self.surface: Surface = "rim" if (number + number // 8) % 2 == 0 else "face"
        self.per_turn = round(self.log_uniform(60, 3000))
        self.noise_mm = self.log_uniform(0.0005, 0.005)
        self.source: AngleSource = "encoder" if rng.random() < 0.5 else "marks"
        self.turn_s = self.log_uniform(20, 90)
        self.use_gauge(*GAUGES[number % len(GAUGES)])
        # What a regime keeps for who is told of it: seconds of all presses of marks; size of noise that runs
        # on in mm, and how much of it each reading hands to the next.
        self.presses_s: tuple[float, ...] = ()
        self.runs_on = (0.0, 0.0)
        # Set, it makes the sweep of a take instead of tags that the take has already.
        self.through: Callable[[Take], Sweep] | None = None

    def use_gauge(self, resolution_mm: float, mpe_mm: float) -> None:
        """Another gauge, of the same day, with a span error of its own."""
        self.gauge = GaugeFacts("sim", resolution_mm, mpe_mm)
        self.instrument = Instrument.drawn(self.rng, mpe_mm)

    def log_uniform(self, low: float, high: float) -> float:
        """Uniform in the logarithm."""
        return float(np.exp(self.rng.uniform(np.log(low), np.log(high))))

    def either(self) -> float:
        """+1 or -1."""
        return 1.0 if self.rng.random() < 0.5 else -1.0

    def form(self, *, feature: bool | None = None, tir_mm: float | None = None) -> SurfaceShape:
        """A surface as in the honest grid, at the truth unless said otherwise."""
        case = random_case(self.rng, feature=feature)
        return SurfaceShape(self.rng, replace(case, tir_mm=self.truth_mm if tir_mm is None else tir_mm))

    def eccentric(self) -> Callable[[F64], F64]:
        """An offset circle of unit height with a little second order."""
        high, second, turn = self.rng.uniform(0, 360), self.rng.uniform(0, 0.2), self.rng.uniform(0, 360)

        def form(angle_deg: F64) -> F64:
            first = np.cos(np.deg2rad(angle_deg - high))
            return np.asarray(first + second * np.cos(2 * np.deg2rad(angle_deg - turn)))

        return form

    def on_eccentric(self, extra: Callable[[F64], F64]) -> Mixed:
        """extra on an eccentric, at the truth."""
        return Mixed(self.eccentric(), extra, self.truth_mm)

    def take(self, form: Form, path: F64 | None = None) -> Take:
        """A sweep over the form with the day's gauge, noise, pace and angle source; 1.5 um of drift too."""
        if path is None:
            back = self.source == "encoder" and self.rng.random() < 0.25
            path = barred_path(self.rng, self.per_turn, back)
        path, angle, angle_u = known(self.rng, self.source, path)
        n = path.size
        value = self.instrument.sees(form, path) + self.rng.normal(0, 0.0015) * np.linspace(0, 1, n)
        time_s: F64 = np.arange(n, dtype=np.float64) * (self.turn_s / self.per_turn)
        return Take(path, angle, angle_u, time_s, value, self.rng.normal(0, self.noise_mm, n))

    def shown(self, take: Take) -> F64:
        """What the display shows: whole steps of the gauge's own zero, shape (n,)."""
        step = self.gauge.resolution_mm
        return np.asarray(np.round((take.value + take.noise + self.rng.uniform(0, 1)) / step) * step)

    def read(self, take: Take) -> Sweep:
        """The sweep as the grader gets it."""
        if self.through is not None:
            return self.through(take)
        shown = self.shown(take)
        return Sweep(self.surface, take.angle, shown, take.angle_u, take.time_s, self.gauge)
