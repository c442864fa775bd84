"""From tagged readings to the surface's true TIR with its uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from grading.coverage import measure_coverage
from grading.evidence import F64, Sweep
from grading.harmonics import Harmonic, columns, least_squares, to_harmonics

DRAWS = 2000


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One source of uncertainty and its standard uncertainty in the true TIR, in mm."""

    source: str
    u_mm: float


@dataclass(frozen=True, slots=True)
class LocalFeature:
    """A dent (negative height) or bulge narrower than 15 degrees: its middle, its full width."""

    angle_deg: float
    width_deg: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class RunoutEstimate:
    """All figures of one surface, from one sweep or several of them together.

    tir_mm: raw, as a dial would have shown it, of the last sweep. true_tir_mm, u_expanded_mm: best
    estimate of the surface's true TIR, and the half-width around it that covers it with probability
    `coverage`. draws_mm: shape (m,), sorted: equally likely values of the true TIR (JCGM 101).
    u_random_mm, u_systematic_mm: standard uncertainties; only the random part shrinks when sweeps
    are repeated. harmonics … closure_mm, readings: of the last sweep; closure_mm is None where
    nothing was passed twice. tilt_mrad: a face read at a known radius. sweeps: how many were combined.
    """

    tir_mm: float
    true_tir_mm: float
    u_expanded_mm: float
    coverage: float
    draws_mm: F64
    u_random_mm: float
    u_systematic_mm: float
    harmonics: tuple[Harmonic, ...]
    eccentricity_mm: float
    high_spot_deg: float
    residual_rms_mm: float
    covered_deg: float
    largest_gap_deg: float
    closure_mm: float | None
    readings: int
    budget: tuple[BudgetLine, ...]
    features: tuple[LocalFeature, ...] = ()
    warnings: tuple[str, ...] = ()
    tilt_mrad: float | None = None
    end_float_steps: int = 0
    sweeps: int = 1

    def p_over(self, limit_mm: float) -> float:
        """Probability that the true TIR is above the limit (JCGM 106:2012, 7)."""
        return float(np.mean(self.draws_mm > limit_mm))


def estimate_runout(sweeps: Sequence[Sweep], *, seed: int, coverage: float = 0.95) -> RunoutEstimate:
    """The true TIR of the surface that all these sweeps have read, oldest first.

    A pure function: the same sweeps and seed give the same bits on one machine. A sweep needs at
    least 8 readings around the turn (`judge_coverage` says whether it is fit to be judged). Raises
    ValueError where there is no sweep, or one with fewer than 8 readings.
    """
    if not sweeps:
        raise ValueError("no sweep to estimate from")
    sweep = sweeps[-1]
    if sweep.angle_deg.size < 8:
        raise ValueError(f"{sweep.angle_deg.size} readings in the sweep, at least 8 are needed")
    rng = np.random.default_rng(seed)
    n = sweep.angle_deg.size
    best = min(range(1, min(12, (n - 2) // 2) + 1), key=lambda k: _bic(sweep, k))
    solution, residual = least_squares(sweep.angle_deg, sweep.value_mm, best)
    x = np.column_stack([np.ones(n), columns(sweep.angle_deg, best)])
    u = max(float(np.sqrt(residual @ residual / max(n - x.shape[1], 1))), sweep.gauge.resolution_mm / 12**0.5)
    root = np.linalg.cholesky(np.linalg.inv(x.T @ x)) * u
    draws = solution + (root @ rng.standard_normal((x.shape[1], DRAWS))).T
    dense = columns(np.arange(0.0, 360.0, 0.5), best)
    each = np.ptp(draws[:, 1:] @ dense.T, axis=1)
    plain = float(np.ptp(dense @ solution[1:]))
    each = each - 2 * (each.mean() - plain)
    u_random = float(each.std())
    u_span = sweep.gauge.mpe_mm / 3**0.5
    each = np.sort(each + rng.uniform(-1, 1, DRAWS) * sweep.gauge.mpe_mm)
    y = float(np.median(each))
    harmonics = to_harmonics(solution[1:])
    found = measure_coverage(sweep)
    tilt = None
    if sweep.surface == "face" and sweep.radius_mm:
        tilt = float(np.arctan(harmonics[0].amplitude_mm / sweep.radius_mm)) * 1000
    return RunoutEstimate(
        tir_mm=float(np.ptp(sweep.value_mm)),
        true_tir_mm=y,
        u_expanded_mm=float(np.quantile(np.abs(each - y), coverage)),
        coverage=coverage,
        draws_mm=each,
        u_random_mm=u_random,
        u_systematic_mm=u_span,
        harmonics=harmonics,
        eccentricity_mm=harmonics[0].amplitude_mm,
        high_spot_deg=harmonics[0].phase_deg,
        residual_rms_mm=float(np.sqrt(np.mean(residual**2))),
        covered_deg=found.covered_deg,
        largest_gap_deg=found.largest_gap_deg,
        closure_mm=found.closure_mm,
        readings=n,
        budget=(BudgetLine("noise and resolution", u_random), BudgetLine("gauge span error", u_span)),
        tilt_mrad=tilt,
        sweeps=len(sweeps),
    )


def _bic(sweep: Sweep, orders: int) -> float:
    n = sweep.angle_deg.size
    _, residual = least_squares(sweep.angle_deg, sweep.value_mm, orders)
    floor = sweep.gauge.resolution_mm**2 / 12
    return n * float(np.log(residual @ residual / n + floor)) + 2 * orders * float(np.log(n))
