"""Run-out checks: from all sweeps of one surface to its outcome and its figures in the result."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np

from config.method import Method, SurfaceRules
from grading.coverage import judge_coverage, measure_coverage
from grading.decision import decide, repeats_needed
from grading.evidence import Surface, Sweep
from grading.parts import SEED, attempt_parts, gauge_part, gauge_warnings, measured_figure, rule_of
from grading.result import BudgetPart, FeaturePart, HarmonicPart, SurfaceCheck
from grading.runout import RunoutEstimate, estimate_runout
from grading.sentences import decided, more_repeats, rule_name

AMPLITUDE_MIN_MM = 0.0001
"""Harmonics smaller than a tenth of a micrometre are left out: no gauge of the trade shows them."""
SCATTER_SHARE_MAX = 0.1
"""Most that readings may scatter about the fitted surface, rms, as a share of the limit, to be called
within: beyond it something other than the surface moves the gauge. A good dial stays below a hundredth.
Our own choice, no source."""
SWEEPS_MAX = 6
"""Most sweeps combined: beyond it the part that does not shrink rules the uncertainty anyway."""


def judge_surface(
    surface: Surface, attempts: Sequence[Sweep], method: Method, *, on: date | None = None
) -> SurfaceCheck:
    """`rim` or `face` from all its sweeps, oldest first.

    The latest valid sweep counts; earlier valid ones by the same gauge that agree with it are
    combined where the method says so. on: the day of the inspection, against which the calibration
    date is held.
    """
    rules = method.surface(surface)
    if not attempts:
        return SurfaceCheck(outcome="missing", reason="not measured yet", limit_mm=rules.limit_mm)
    faults = [_sweep_faults(sweep, rules) for sweep in attempts]
    valid = [i for i, found in enumerate(faults) if not found]
    if not valid:
        return _invalid_surface(attempts[-1], faults, rules, on)
    sweeps = {i: _placed(attempts[i], rules) for i in valid}
    counted, estimate, warnings = _combined(sweeps, rules, method.decision.coverage)
    if valid[-1] != len(attempts) - 1:
        warnings.append(f"a later attempt does not count: {faults[-1][0]}")
    latest = attempts[valid[-1]]
    measured = measured_figure(
        estimate.true_tir_mm,
        estimate.u_expanded_mm,
        estimate.u_random_mm,
        estimate.u_systematic_mm,
        estimate.p_over(rules.limit_mm),
    )
    rule = rule_of(method.decision)
    outcome = decide(measured, rules.limit_mm, rule)
    scatter_max_mm = SCATTER_SHARE_MAX * rules.limit_mm
    if outcome == "within" and estimate.residual_rms_mm > scatter_max_mm:
        faults[valid[-1]] = [
            f"the readings scatter by {estimate.residual_rms_mm:.3f} mm about any surface that turns, "
            f"at most {scatter_max_mm:g} mm are allowed; check contact, base and cable, then take it again"
        ]
        return _invalid_surface(attempts[-1], faults, rules, on)
    reason = decided("true TIR", outcome, measured, rules.limit_mm, method.decision)
    more = repeats_needed(
        measured,
        rules.limit_mm,
        rule,
        u_random_mm=estimate.u_random_mm * estimate.sweeps**0.5,
        u_systematic_mm=estimate.u_systematic_mm,
        done=estimate.sweeps,
    )
    if outcome == "unclear":
        reason += "; " + more_repeats(more, "sweep")
    return SurfaceCheck(
        outcome=outcome,
        reason=reason,
        limit_mm=rules.limit_mm,
        p_over=measured.p_over,
        rule=rule_name(method.decision),
        repeats_needed=more or None,
        warnings=(*warnings, *estimate.warnings, *gauge_warnings(latest.gauge, on)),
        gauge=gauge_part(latest.gauge),
        attempts=attempt_parts(faults, counted, [_tir(sweep) for sweep in attempts]),
        **_figures(estimate, face=surface == "face"),
    )


def _sweep_faults(sweep: Sweep, rules: SurfaceRules) -> list[str]:
    faults = judge_coverage(sweep, rules.sweep)
    share = sweep.lost / max(sweep.lost + sweep.angle_deg.size, 1)
    if share > rules.sweep.max_lost_share:
        faults.append(
            f"{sweep.lost} readings were lost ({share:.0%}), at most {rules.sweep.max_lost_share:.0%} may "
            "be; check the gauge's cable, then take the sweep again"
        )
    return faults


def _invalid_surface(
    sweep: Sweep, faults: list[list[str]], rules: SurfaceRules, on: date | None
) -> SurfaceCheck:
    sound = np.isfinite(sweep.angle_deg) & np.isfinite(sweep.value_mm)
    found = measure_coverage(replace(sweep, angle_deg=sweep.angle_deg[sound], value_mm=sweep.value_mm[sound]))
    return SurfaceCheck(
        outcome="invalid",
        reason="; ".join(faults[-1]),
        limit_mm=rules.limit_mm,
        tir_mm=_tir(sweep),
        covered_deg=found.covered_deg,
        largest_gap_deg=found.largest_gap_deg,
        closure_mm=found.closure_mm,
        readings=found.readings,
        warnings=(*sweep.interrupted, *gauge_warnings(sweep.gauge, on)),
        gauge=gauge_part(sweep.gauge),
        attempts=attempt_parts(faults, set(), [None] * len(faults)),
    )


def _placed(sweep: Sweep, rules: SurfaceRules) -> Sweep:
    """The sweep with the method's radius where it knows none of its own."""
    return sweep if sweep.radius_mm is not None else replace(sweep, radius_mm=rules.radius_mm)


def _combined(
    sweeps: dict[int, Sweep], rules: SurfaceRules, coverage: float
) -> tuple[set[int], RunoutEstimate, list[str]]:
    """Which sweeps count, their estimate together, and what is to be said about the others.

    An earlier sweep joins where its estimate differs from the latest by no more than three standard
    uncertainties of the random parts; what the gauge does wrong, it does wrong in both.
    """
    latest = max(sweeps)
    alone = estimate_runout([sweeps[latest]], seed=SEED, coverage=coverage)
    warnings = list(sweeps[latest].interrupted)
    together = [latest]
    if rules.repeats == "combine":
        for i in sorted(sweeps, reverse=True)[1:SWEEPS_MAX]:
            if sweeps[i].gauge != sweeps[latest].gauge:
                continue
            other = estimate_runout([sweeps[i]], seed=SEED, coverage=coverage)
            apart = abs(other.true_tir_mm - alone.true_tir_mm)
            allowed = 3.0 * (other.u_random_mm**2 + alone.u_random_mm**2) ** 0.5
            if apart <= max(allowed, sweeps[i].gauge.resolution_mm):
                together.append(i)
            else:
                warnings.append(
                    f"sweep {i + 1} differs from the latest by {apart:.3f} mm, more than noise explains, and "
                    "does not count; check the base and the contact"
                )
    if len(together) == 1:
        return {latest}, alone, warnings
    together.sort()
    joint = estimate_runout([sweeps[i] for i in together], seed=SEED, coverage=coverage)
    return set(together), joint, warnings


def _figures(estimate: RunoutEstimate, *, face: bool) -> dict[str, Any]:
    """The estimate's figures by their names in the result."""
    return {
        "tir_mm": estimate.tir_mm,
        "true_tir_mm": estimate.true_tir_mm,
        "u_expanded_mm": estimate.u_expanded_mm,
        "coverage": estimate.coverage,
        "harmonics": tuple(
            HarmonicPart(order=h.order, amplitude_mm=h.amplitude_mm, phase_deg=h.phase_deg)
            for h in estimate.harmonics
            if h.order == 1 or h.amplitude_mm >= AMPLITUDE_MIN_MM
        ),
        "eccentricity_mm": estimate.eccentricity_mm,
        "high_spot_deg": estimate.high_spot_deg,
        "tilt_mrad": estimate.tilt_mrad,
        "end_float_steps": estimate.end_float_steps if face else None,
        "residual_rms_mm": estimate.residual_rms_mm,
        "features": tuple(
            FeaturePart(angle_deg=f.angle_deg, width_deg=f.width_deg, height_mm=f.height_mm)
            for f in estimate.features
        )
        or None,
        "covered_deg": estimate.covered_deg,
        "largest_gap_deg": estimate.largest_gap_deg,
        "closure_mm": estimate.closure_mm,
        "readings": estimate.readings,
        "sweeps": estimate.sweeps,
        "budget": tuple(BudgetPart(source=line.source, u_mm=line.u_mm) for line in estimate.budget),
    }


def _tir(sweep: Sweep) -> float | None:
    """Highest minus lowest of the readings, mm; None without any."""
    if not sweep.value_mm.size or not np.isfinite(sweep.value_mm).all():
        return None
    return float(np.ptp(sweep.value_mm))
