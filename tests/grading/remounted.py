"""Sweeps of a virtual damper on a virtual mounting, read as a bay reads them."""

from __future__ import annotations

import numpy as np

from contract.gauge import GaugeFacts
from contract.terms import Surface
from grading.evidence import Sweep
from simulators.damper import Mounted
from tests.grading.samples import FINE


def swept(
    mounted: Mounted,
    seed: int,
    *,
    surface: Surface = "rim",
    readings: int = 200,
    covered_deg: float = 366.0,
    noise_mm: float = 0.001,
    gauge: GaugeFacts = FINE,
    angle_u_deg: float = 0.05,
    off_deg: float = 0.0,
    gain: float = 1.0,
) -> Sweep:
    """One sweep. off_deg: by how much all its angles are wrong; gain: what the gauge makes of a length."""
    rng = np.random.default_rng(seed)
    angle = np.linspace(0.0, covered_deg, readings)
    height = mounted.rim_mm if surface == "rim" else mounted.face_mm
    true = np.array([height(float(at)) for at in angle + off_deg])
    value = gain * true + rng.normal(0.0, noise_mm, readings)
    shown = np.rint(value / gauge.resolution_mm) * gauge.resolution_mm
    u = np.full(readings, angle_u_deg)
    return Sweep(surface, angle, shown, u, np.arange(readings) / 20.0, gauge)
