"""Sweeps by a gauge whose numbers do not say their unit, which somebody switches at about nought.

The display goes by ones in both units: 0.001 mm and 0.0001 or 0.001 in.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from contract.units import NM_PER_INCH, NM_PER_MM
from drivers.switching import Switching
from grading.evidence import F64, Sweep
from tests.grading.swept import FINE

IN_MM = replace(FINE, unit_hidden=True)
IN_INCHES = replace(IN_MM, resolution_mm=0.00254)
# Nothing further off is switched unnoticed, in steps.
NEAR_STEPS = 30.0


@dataclass(frozen=True)
class Drawn:
    """A sweep. at_deg: where it was switched; moved: whether the surface had moved by ten steps before."""

    sweep: Sweep
    at_deg: float = 0.0
    moved: bool = False


def _felt(rng: np.random.Generator, tir_mm: float, step: float) -> tuple[F64, F64]:
    """Angles and what the plunger feels there: zeroed at the start or anywhere, barred after a pause."""
    k = np.arange(1, 9)
    amplitude = rng.normal(size=8) * k**-2.0 * rng.choice((0.05, 0.2, 0.5))
    amplitude[0] = 1.0
    phase = rng.uniform(0.0, 2 * np.pi, 8)

    def height(angle_deg: F64) -> F64:
        return np.asarray(np.cos(np.outer(np.deg2rad(angle_deg), k) - phase) @ amplitude)

    scale = tir_mm / float(np.ptp(height(np.linspace(0.0, 360.0, 1440))))
    readings, stood = int(rng.choice((300, 600, 1200))), int(rng.integers(0, 60))
    angle = np.concatenate([np.zeros(stood), np.linspace(0.0, 366.0, readings)])
    zero = np.array([0.0 if rng.random() < 2 / 3 else rng.uniform(0.0, 360.0)])
    value = scale * (height(angle) - height(zero)[0]) + rng.uniform(-2.0, 2.0) * step
    return angle, value + rng.normal(0.0, rng.choice((0.0002, 0.0005, 0.001)), angle.size)


def _swept(angle: F64, value: F64, step: float) -> Sweep:
    gauge = IN_MM if step == IN_MM.resolution_mm else IN_INCHES
    times = np.arange(angle.size, dtype=np.float64) * 0.05
    return Sweep("rim", angle, np.asarray(value, np.float64), np.full(angle.size, 0.05), times, gauge, 150.0)


def honest(rng: np.random.Generator, tir_mm: float, step: float = 0.001) -> Sweep:
    angle, felt = _felt(rng, tir_mm, step)
    return _swept(angle, np.round(felt / step) * step, step)


def switched(rng: np.random.Generator, tir_mm: float, ratio: float, step: float = 0.001) -> Drawn:
    """At a moment, any as likely as any other, at which the drivers did not notice it."""
    while True:
        angle, felt = _felt(rng, tir_mm, step)
        leap = np.abs(felt) * np.abs(1.0 - ratio)
        moments = np.flatnonzero((np.abs(felt) < NEAR_STEPS * step) & (leap < NEAR_STEPS * step))[1:]
        if not moments.size:
            continue
        at = int(rng.choice(moments))
        times = np.where(np.arange(felt.size) < at, 1.0, ratio)
        counts = np.round(felt * times / step).astype(np.int64)
        in_mm = step == IN_MM.resolution_mm
        per_unit, decimals = (NM_PER_MM, 3) if in_mm else (NM_PER_INCH, 4)
        watched = Switching(per_unit, in_mm=in_mm, hidden=True)
        if all(watched.takes(int(count) * per_unit // 10**decimals, decimals) for count in counts):
            moved = float(np.ptp(felt[:at])) > 10 * step if at else False
            return Drawn(_swept(angle, counts.astype(np.float64) * step, step), float(angle[at]), moved)
