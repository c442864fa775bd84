"""Harmonics of a surface around the turn: least squares, amplitude and phase, values in between."""

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
    turn = np.exp(1j * np.deg2rad(angle_deg))
    out = np.empty((angle_deg.size, 2 * orders))
    power = np.ones_like(turn)
    for k in range(orders):
        power = power * turn
        out[:, 2 * k] = power.real
        out[:, 2 * k + 1] = power.imag
    return out


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


def least_squares(angle_deg: F64, value_mm: F64, orders: int) -> tuple[F64, F64]:
    """Mean and coefficients by ordinary least squares: (coefficients of shape (1 + 2 * orders,),
    the mean first; residuals of shape (n,)), in mm.

    Raises ValueError where there are fewer readings than coefficients.
    """
    if angle_deg.size < 1 + 2 * orders:
        raise ValueError(f"{orders} harmonics need {1 + 2 * orders} readings, got {angle_deg.size}")
    x = np.column_stack([np.ones(angle_deg.size), columns(angle_deg, orders)])
    solution: F64 = np.linalg.lstsq(x, value_mm, rcond=None)[0].astype(np.float64)
    return solution, value_mm - x @ solution
