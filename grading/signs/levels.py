"""Steps of a sweep's level at known times, by least squares beside a smooth surface."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from config.runout import SweepRules
from grading.evidence import F64, Sweep
from grading.signs.jumps import ORDERS, READINGS_PER_ORDER
from grading.signs.scatter import scatter_mm
from grading.surface.harmonics import columns
from grading.surface.observations import progress


@dataclass(frozen=True, slots=True)
class LevelStep:
    """A step of the level: where the crank stood, by how much, how well that is known (standard), and when by
    the clock that sweeps read side by side share."""

    angle_deg: float
    height_mm: float
    u_mm: float
    clock_s: float


def clock_s(sweep: Sweep) -> F64:
    """Time of each reading by the clock that sweeps read side by side share, s."""
    return np.asarray(sweep.time_s + sweep.clock_s)


def smooth(sweep: Sweep) -> F64:
    """Columns of a smooth surface with an even drift, shape (n, p): level, drift, cosine and sine of order 1,
    of order 2, …"""
    n = sweep.angle_deg.size
    orders = min(ORDERS, n // READINGS_PER_ORDER)
    return np.column_stack([np.ones(n), progress(sweep), columns(sweep.angle_deg, orders)])


def fit_steps(sweep: Sweep, times_s: Sequence[float], drift_mm: float) -> list[LevelStep]:
    """Heights of steps at these times of the clock. drift_mm: how far the level may drift evenly (standard):
    what is more than that between two passes over a place is a step."""
    at, n = clock_s(sweep), sweep.angle_deg.size
    basis = np.column_stack([smooth(sweep), *(at >= time_s for time_s in times_s)])
    square = basis.T @ basis
    square[1, 1] += (scatter_mm(sweep) / drift_mm) ** 2
    inverse = np.linalg.pinv(square)
    value = sweep.value_mm - float(np.mean(sweep.value_mm))
    found = inverse @ (basis.T @ value)
    rest = value - basis @ found
    noise = max(float(np.sqrt(rest @ rest / max(n - basis.shape[1], 1))), scatter_mm(sweep))
    u = noise * np.sqrt(np.maximum(np.diag(inverse), 0.0))
    places = np.interp(times_s, at, sweep.angle_deg)
    first = basis.shape[1] - len(times_s)
    return [
        LevelStep(float(place), float(found[first + i]), float(u[first + i]), times_s[i])
        for i, place in enumerate(places)
    ]


def returns_of(sweep: Sweep) -> list[float]:
    """When within the sweep its gauge came back after it was away, by the clock."""
    low, high = float(sweep.time_s.min()), float(sweep.time_s.max())
    return [time_s + sweep.clock_s for time_s in sweep.breaks_s if low < time_s <= high]


def return_times(sweep: Sweep) -> F64:
    """The same as progress of time, shape (r,): there the level may be another."""
    low, span = float(sweep.time_s.min()), float(np.ptp(sweep.time_s))
    return np.array([(time_s - sweep.clock_s - low) / span - 0.5 for time_s in returns_of(sweep)])


def return_fault(sweep: Sweep, rules: SweepRules) -> str | None:
    """A gauge that went away within the sweep and came back with another zero; None where it did not."""
    steps = fit_steps(sweep, times, rules.drift_mm) if (times := returns_of(sweep)) else []
    step = max(steps, key=lambda each: abs(each.height_mm), default=None)
    if step is None or abs(step.height_mm) <= max(rules.signs.slip_u * step.u_mm, rules.max_new_zero_mm):
        return None
    return (
        f"{sweep.gauge.id} came back with another zero, by {step.height_mm:+.3f} mm at "
        f"{step.angle_deg % 360.0:.0f} degrees: keep it from switching itself off, and take the sweep again"
    )
