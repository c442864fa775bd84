"""Simulated sweeps over surfaces whose true TIR is known: the grid of the coverage study.

The grid, drawn afresh for each sweep:
- harmonics: all orders 1 … H, H = 1 … 12; amplitudes |N(0, 1)| / k^p with p uniform 0.5 … 2, phases
  uniform.
- local feature (where the cell has one): a dent or a bulge anywhere, 5 … 15 degrees wide at its foot,
  raised cosine, Gaussian or rounded flat, height 8 … 60 % of the harmonics' TIR (log-uniform).
- TIR 0.03 … 0.6 mm (log-uniform), the feature included.
- gauge: resolution 0.01, 0.002, 0.001 mm or 0.0005 in, on a grid of its own zero; noise 0.5 … 5 um
  (log-uniform, white). Span error: the difference between the surface's highest and lowest is wrong
  by s, s rectangular within +-mpe as a permissible error is stated, along a monotone error curve.
- readings: 60 … 3 000 a turn (log-uniform), evenly in time over one turn and 5 … 8 degrees more.
- pace: log-speed wanders by 0.35 (standard deviation) with a memory of 15 … 60 degrees and swings once per
  pull of the bar; with an encoder, one sweep in four also goes back 2 … 20 degrees and forward again.
- angle source `encoder`: steps of 360/1024 degrees, timing error 0.03 degrees. `marks`: exact to 0.5
  degrees (standard) at 3, 4, 6 or 8 marks a turn, between them linear in time along the same wandering
  pace, so that the error runs on from reading to reading and reaches many degrees; its stated standard
  uncertainty is that of a walk pinned at both marks; readings end at the mark that closes the turn.
- drift: linear in time, N(0, 1.5 um) over the sweep. Plunger tilted by 0 … 3 degrees. Base flex: up
  to +-0.1 % of the travel.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np

from contract.gauge import GaugeFacts
from grading.evidence import F64, Sweep

AngleSource = Literal["encoder", "marks"]

# Display step in mm and the permissible span error that goes with it in this study.
GAUGES: tuple[tuple[float, float], ...] = ((0.01, 0.015), (0.002, 0.006), (0.001, 0.004), (0.0127, 0.0127))


@dataclass(frozen=True)
class Case:
    """One point of the grid."""

    orders: int
    feature: bool
    source: AngleSource
    tir_mm: float
    resolution_mm: float
    mpe_mm: float
    noise_mm: float
    per_turn: int


class Form(Protocol):
    """A surface as a function of the true angle: heights in mm, the lowest of them, highest minus lowest."""

    lowest: float
    tir: float

    def __call__(self, angle_deg: F64) -> F64:
        """Height in mm, shape as the angles."""


class SurfaceShape:
    """A surface of harmonics, and of one local feature where the case has one."""

    def __init__(self, rng: np.random.Generator, case: Case) -> None:
        k = np.arange(1, case.orders + 1)
        self.amplitude = np.abs(rng.standard_normal(case.orders)) / k ** rng.uniform(0.5, 2.0)
        self.amplitude[0] += 0.05
        self.phase = rng.uniform(0, 2 * np.pi, case.orders)
        self.height = 0.0
        self.middle = float(rng.uniform(0, 360))
        self.width = float(rng.uniform(5, 15))
        self.kind = int(rng.integers(3))
        height = float(np.exp(rng.uniform(np.log(0.08), np.log(0.6)))) * (1 if rng.random() < 0.5 else -1)
        dense = np.arange(0, 360, 0.05)
        if case.feature:
            self.height = height * float(np.ptp(self(dense)))
        scale = case.tir_mm / float(np.ptp(self(dense)))
        self.amplitude = self.amplitude * scale
        self.height *= scale
        values = self(dense)
        self.lowest, self.tir = float(values.min()), float(np.ptp(values))

    def __call__(self, angle_deg: F64) -> F64:
        """Height in mm, shape as the angles."""
        out = np.zeros_like(angle_deg)
        for k, (a, p) in enumerate(zip(self.amplitude, self.phase, strict=True), start=1):
            out += a * np.cos(k * np.deg2rad(angle_deg) - p)
        if self.height:
            d = np.abs((angle_deg - self.middle + 180) % 360 - 180) / (self.width / 2)
            if self.kind == 0:
                bump = np.where(d < 1, 0.5 + 0.5 * np.cos(np.pi * np.minimum(d, 1)), 0)
            elif self.kind == 1:
                bump = np.exp(-0.5 * (d * 2.5) ** 2)
            else:
                bump = np.where(d < 1, 1 - np.minimum(d, 1) ** 4, 0) ** 2
            out += self.height * bump
        return out


@dataclass(frozen=True)
class Instrument:
    """What gauge and stand do wrong alike in every sweep: span_mm is added to the TIR, bend is the form of
    the error curve, stretch comes of tilt and flex."""

    span_mm: float
    bend: float
    stretch: float

    @classmethod
    def drawn(cls, rng: np.random.Generator, mpe_mm: float) -> Instrument:
        """One of its kind."""
        return cls(
            float(rng.uniform(-mpe_mm, mpe_mm)),
            float(np.exp(rng.uniform(-0.7, 0.7))),
            float((1 + rng.uniform(-0.001, 0.001)) / np.cos(np.deg2rad(rng.uniform(0, 3)))),
        )

    def sees(self, surface: Form, path: F64) -> F64:
        """The surface at these true angles as this instrument takes it, in mm, without noise or steps."""
        true = surface(path)
        part = np.clip((true - surface.lowest) / surface.tir, 0, 1)
        return np.asarray((true + self.span_mm * part**self.bend) * self.stretch)


@dataclass(frozen=True)
class Simulated:
    """A sweep, the truth behind it, and through what it was seen."""

    case: Case
    sweep: Sweep
    true_tir_mm: float
    surface: SurfaceShape
    instrument: Instrument

    @property
    def span_mm(self) -> float:
        """What the gauge's span error added to the TIR."""
        return self.instrument.span_mm


def barred_path(rng: np.random.Generator, n_per_turn: int, back: bool) -> F64:
    """True angles of readings evenly spaced in time, from 0 over one turn and a little more, shape (n,)."""
    total = 360 + rng.uniform(5, 8)
    fine = 4000
    memory = rng.uniform(15, 60) / total * fine
    smooth = np.exp(-0.5 * (np.arange(-fine // 2, fine // 2) / memory) ** 2)
    pace = np.convolve(rng.standard_normal(fine * 2), smooth, "same")
    pace = pace[fine // 2 : fine // 2 + fine]
    pace = pace / max(float(pace.std()), 1e-9) * 0.35 * abs(float(rng.standard_normal()) * 0.5 + 1)
    pulls = rng.integers(4, 12)
    pull = np.cos(2 * np.pi * pulls * np.arange(fine) / fine + rng.uniform(0, 6.28))
    pace += 0.3 * pull * rng.uniform(0, 1)
    angle = np.concatenate([[0.0], np.cumsum(np.exp(pace))])
    angle *= total / angle[-1]
    n = round(n_per_turn * total / 360)
    path: F64 = np.interp(np.linspace(0, fine, n), np.arange(fine + 1), angle)
    if back:
        at = int(rng.integers(n // 4, 3 * n // 4))
        depth = rng.uniform(2, 20)
        m = max(2, round(n_per_turn * depth / 360))
        down = path[at] - np.linspace(0, depth, m + 1)[1:]
        path = np.concatenate([path[: at + 1], down, down[::-1], path[at + 1 :]])
    return path


def tagged(rng: np.random.Generator, source: AngleSource, path: F64) -> tuple[F64, F64]:
    """Angles as the tagger would give them, and their standard uncertainties, shape (n,) each."""
    n = path.size
    if source == "encoder":
        step = 360 / 1024
        angle = np.round(path / step) * step + rng.normal(0, 0.03, n)
        return angle, np.full(n, float(np.hypot(step / 12**0.5, 0.03)))
    spacing = 360 / int(rng.choice([3, 4, 6, 8]))
    marks = np.arange(0, 361, spacing)
    times = np.interp(marks + rng.normal(0, 0.5, marks.size) * (marks > 0), path, np.arange(n, dtype=float))
    angle = np.interp(np.arange(n, dtype=float), times, marks)
    share = np.mod(angle, spacing) / spacing
    return angle, np.sqrt(0.5**2 + spacing**2 * share * (1 - share) / 3)


def known(rng: np.random.Generator, source: AngleSource, path: F64) -> tuple[F64, F64, F64]:
    """True angles that a sweep keeps, their tags, the tags' standard uncertainties, shape (n,) each."""
    angle, angle_u = tagged(rng, source, path)
    if source == "encoder":
        return path, angle, angle_u
    # From the closing mark on the interpolation stands still.
    kept = angle < 360.0
    return path[kept], angle[kept], angle_u[kept]


def simulate(rng: np.random.Generator, case: Case, like: Simulated | None = None) -> Simulated:
    """One sweep of one case. like: an earlier one, whose surface and gauge are read once more: all that
    a repeat shares stays (span error, tilt, flex), the rest is new."""
    surface = SurfaceShape(rng, case)
    path = barred_path(rng, case.per_turn, case.source == "encoder" and rng.random() < 0.25)
    path, angle, angle_u = known(rng, case.source, path)
    n = path.size
    instrument = Instrument.drawn(rng, case.mpe_mm)
    if like is not None:
        surface, instrument = like.surface, like.instrument
    value = instrument.sees(surface, path)
    drift = rng.normal(0, 0.0015) * np.linspace(0, 1, n)
    value = value + drift + rng.normal(0, case.noise_mm, n) + rng.uniform(0, 1)
    value = np.round(value / case.resolution_mm) * case.resolution_mm
    gauge = GaugeFacts("sim", case.resolution_mm, case.mpe_mm)
    sweep = Sweep("rim", angle, value, angle_u, np.arange(n, dtype=np.float64) * 0.05, gauge)
    return Simulated(case, sweep, surface.tir, surface, instrument)


def random_case(
    rng: np.random.Generator,
    *,
    orders: tuple[int, int] = (1, 12),
    feature: bool | None = None,
    source: AngleSource | None = None,
    per_turn: tuple[int, int] = (60, 3000),
    gauge: int | None = None,
) -> Case:
    """A point of the grid within the given bounds."""

    def log_uniform(low: float, high: float) -> float:
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    resolution, mpe = GAUGES[int(rng.integers(len(GAUGES))) if gauge is None else gauge]
    return Case(
        orders=int(rng.integers(orders[0], orders[1] + 1)),
        feature=bool(rng.random() < 0.5) if feature is None else feature,
        source=("encoder" if rng.random() < 0.5 else "marks") if source is None else source,
        tir_mm=log_uniform(0.03, 0.6),
        resolution_mm=resolution,
        mpe_mm=mpe,
        noise_mm=log_uniform(0.0005, 0.005),
        per_turn=round(log_uniform(*per_turn)),
    )
