"""Harmonics of a surface around the turn: their columns, amplitude and phase."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from grading.evidence import F64


@dataclass(frozen=True, slots=True)
class Harmonic:
    """One order: `amplitude_mm` is half its own peak-to-peak; `phase_deg` the crank angle of its
    first crest, 0 <= phase < 360 / order."""

    order: int
    amplitude_mm: float
    phase_deg: float


def columns(angle_deg: F64, orders: int) -> F64:
    """cos and sin of orders 1 … `orders`, shape (n, 2 * orders): cos 1, sin 1, cos 2, sin 2, …"""
    powers = np.empty((angle_deg.size, orders), dtype=np.complex128)
    powers[:] = np.exp(1j * np.deg2rad(angle_deg))[:, None]
    np.multiply.accumulate(powers, axis=1, out=powers)
    return powers.view(np.float64)


def to_harmonics(coefficients: F64) -> tuple[Harmonic, ...]:
    """Amplitude and phase of coefficients in the order of `columns`, shape (2 * orders,), in mm."""
    found = []
    for k in range(1, coefficients.size // 2 + 1):
        a, b = float(coefficients[2 * k - 2]), float(coefficients[2 * k - 1])
        period = 360.0 / k
        phase = float(np.rad2deg(np.arctan2(b, a))) / k % period
        # The remainder of a tiny negative angle rounds up to the period itself.
        found.append(Harmonic(k, float(np.hypot(a, b)), 0.0 if phase >= period else phase))
    return tuple(found)
