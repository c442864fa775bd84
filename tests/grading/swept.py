"""Sweeps of known forms, read by a fine or a coarse gauge."""

from __future__ import annotations

import numpy as np

from config.runout import SweepRules
from contract.gauge import GaugeFacts
from contract.result import SurfaceCheck
from contract.terms import Surface
from grading.evidence import F64, Sweep
from grading.kinds.surfaces import judge_surface
from grading.signs.faults import disturbances
from grading.signs.prepared import prepare
from tests.grading.samples import EXAMPLE

FINE = GaugeFacts("indicator-1", 0.001, 0.004)
COARSE = GaugeFacts("typed", 0.01, 0.015)
RULES = SweepRules()


def swept(
    value_mm: F64, angle_deg: F64, gauge: GaugeFacts = FINE, *, noise_mm: float = 0.001, what: Surface = "rim"
) -> Sweep:
    """Readings of these values on the display's steps, evenly in time."""
    n = angle_deg.size
    shown = value_mm + np.random.default_rng(3).normal(0.0, noise_mm, n)
    step = gauge.resolution_mm
    value: F64 = np.asarray(np.round(shown / step) * step, dtype=np.float64)
    return Sweep(
        what, angle_deg, value, np.full(n, 0.05), np.arange(n, dtype=np.float64) * 0.05, gauge, 150.0
    )


def eccentric(angle_deg: F64, tir_mm: float) -> F64:
    """An offset circle with a little of the second and third order."""
    t = np.deg2rad(angle_deg)
    return np.asarray(tir_mm * (0.47 * np.cos(t - 0.7) + 0.05 * np.cos(2 * t) + 0.02 * np.cos(3 * t - 1.0)))


def turn(readings: int = 600, degrees: float = 366.0) -> F64:
    return np.linspace(0.0, degrees, readings)


def said(sweep: Sweep) -> str:
    return "; ".join(disturbances(prepare(sweep, RULES), RULES))


def judged(*sweeps: Sweep) -> SurfaceCheck:
    return judge_surface(sweeps[0].surface, sweeps, EXAMPLE)
