"""Whether a turn is a whole turn: what is read where the sweep comes by the same place again."""

from __future__ import annotations

import numpy as np

from config.runout import SweepRules
from grading.evidence import F64, Sweep
from grading.surface.coverage import SEAM_DEG, Coverage, edge_of, passes_mm


def seam_fault(sweep: Sweep, rules: SweepRules) -> str | None:
    """Why the angles cannot be right, with what to do; None where passes agree in their shape.

    Their level is the closure's business. Half a turn counted as a whole one may end at the level at
    which it began, but hardly with the same slope; a wrong scale makes each turn lie a little further.
    """
    angle, apart = passes_mm(sweep.angle_deg, sweep.value_mm, edge_of(sweep))
    signs = rules.signs
    if angle.size < signs.seam_min or float(np.ptp(angle)) < signs.seam_deg:
        return None
    check = "check counts per turn, gear ratio and marks, and that nothing slipped, then take it again"
    least = sweep.gauge.resolution_mm / 6**0.5
    if float(np.ptp(angle)) < signs.seam_turn_deg:
        x = np.column_stack([np.ones(angle.size), angle - angle.mean()])
        found, u = _fit(x, apart, least)
        slope, u_slope = abs(float(found[1])), float(u[1])
        # On a coarse display a single step looks like a slope.
        steps = signs.seam_steps * sweep.gauge.resolution_mm / float(np.ptp(angle))
        if slope > max(signs.seam_u * u_slope, rules.max_seam_slope_mm_deg, steps):
            return (
                f"the second pass over the start runs differently, by {1000 * slope:.1f} um a degree: this "
                f"may be no whole turn; {check}"
            )
        return None
    turn = np.deg2rad(angle)
    found, u = _fit(np.column_stack([np.ones(angle.size), np.cos(turn), np.sin(turn)]), apart, least)
    shift, u_shift = float(np.hypot(found[1], found[2])), float(np.hypot(u[1], u[2]))
    if shift > max(signs.seam_u * u_shift, rules.max_turn_shift_mm):
        return f"one turn differs from the next by {shift:.3f} mm once around; {check}"
    return None


def ends_apart(sweep: Sweep, seen: Coverage, rules: SweepRules) -> bool:
    """Whether a turn from mark to mark ends at another height than it began, by more than the marks' own
    error makes of the slope there: they may lie elsewhere than is told. The slopes themselves say nothing, as
    the pace differs. seen: of the sweep."""
    if seen.closure_mm is None:
        return False
    angle, value, u_deg = sweep.angle_deg, sweep.value_mm, sweep.angle_u_deg
    slopes = [0.0]
    for end in (0, -1):
        near = np.abs(angle - angle[end]) <= SEAM_DEG
        off = angle[near] - angle[near].mean()
        if np.any(off):
            slopes.append(abs(float(off @ value[near]) / float(off @ off)))
    u_mm = float(np.hypot(seen.closure_u_mm, 2**0.5 * max(slopes) * min(u_deg[0], u_deg[-1])))
    return abs(seen.closure_mm) > max(rules.signs.ends_mm, rules.signs.ends_u * u_mm)


def _fit(x: F64, y: F64, least: float) -> tuple[F64, F64]:
    """Least squares: coefficients and their standard uncertainties, shape (p,) each."""
    inverse = np.linalg.pinv(x.T @ x)
    found = inverse @ (x.T @ y)
    rest = y - x @ found
    scatter = max(float(np.sqrt(rest @ rest / max(y.size - x.shape[1], 1))), least)
    return found, np.asarray(scatter * np.sqrt(np.maximum(np.diag(inverse), 0.0)))
