"""Run-out checks: from all sweeps of one surface to its outcome and its figures in the result."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import Any

import numpy as np

from config.method import Decision, Method
from config.runout import SurfaceRules
from contract.result import BudgetPart, FeaturePart, HarmonicPart, SurfaceCheck
from contract.terms import Surface
from grading.decision.decision import Decided, Measured, Rule, after_looks, decide, repeats_needed
from grading.decision.sentences import REMEDY, decided, more_repeats, over_unsure, rule_name
from grading.evidence import Sweep
from grading.kinds.byitself import ByItself, Look, apart_faults, over_beside
from grading.kinds.facing import both_warnings, opposite_part, step_warnings, steps_of, tilt_mrad
from grading.kinds.parts import SEED, attempt_parts, measured_figure, rule_of
from grading.kinds.refused import asked_of
from grading.kinds.slips import inches_typed, limit_nearer, near_said, unit_slip
from grading.runout.agreement import agreement_of
from grading.runout.exclusions import excluded
from grading.runout.needle import needle_warnings, put_right_said, shown_mm
from grading.runout.repeated import turn_to_turn
from grading.runout.runout import Alone, RunoutEstimate, together
from grading.signs.angles import angle_warnings
from grading.signs.lone import is_sparse
from grading.signs.opposite import Facing
from grading.signs.steps import coarser_warnings
from grading.surface.coverage import measure_coverage

AMPLITUDE_MIN_MM = 0.0001
"""Harmonics smaller than a tenth of a micrometre are left out: no gauge of the trade shows them."""


def judge_surface(
    surface: Surface,
    attempts: Sequence[Sweep],
    method: Method,
    *,
    on: date | None = None,
    look: Look = ByItself,
) -> SurfaceCheck:
    """`rim` or `face` from all its sweeps, oldest first.

    Valid sweeps that agree count together, where the method says so; one that stands apart leaves the
    check unclear until it is outnumbered. on: the day of the inspection, against which the calibration
    date is held. look: looks at each sweep by itself.
    """
    rules = method.surface(surface)
    if not attempts:
        return SurfaceCheck(outcome="missing", reason="not measured yet", limit_mm=rules.limit_mm)
    single = [look(sweep, rules) for sweep in attempts]
    faults = [one.faults for one in single]
    each: dict[int, Alone] = {}
    by_itself = partial(_alone_outcome, rules=rules, coverage=method.decision.coverage)
    for i in (i for i, one in enumerate(single) if one.may_be_fitted):
        first_look = partial(by_itself, rule=rule_of(method.decision))
        faults[i] = single[i].fitted_faults or apart_faults(single[i], rules, first_look)
        if not faults[i]:
            each[i] = single[i].alone
    if not each:
        return _invalid_surface(single[-1], faults, rules, on)
    looks = sum(not found for found in faults)
    rule = after_looks(rule_of(method.decision), looks, method.decision.repeat_share)
    seen = _seen_together(each, rules, rule, method.decision.coverage)
    latest = max(each)
    last, stated = single[latest], attempts[latest]
    beside = over_beside([single[i] for i in sorted(seen.counted)], partial(by_itself, rule=rule))
    if beside is not None and seen.outcome != "over":
        seen = replace(seen, outcome="unclear", apart=beside)
    since = {i + 1: _tir(attempts[i]) or 0.0 for i in range(latest + 1, len(attempts))}
    over = next((i for i, shown in since.items() if shown > rules.limit_mm), None)
    if seen.outcome == "within" and over is not None:
        # It may be another damper's: what is valid after it settles that.
        said = (
            f"sweep {over} does not count, and showed {since[over]:.3f} mm, more than the limit: "
            "see that it is the same damper, then take it again"
        )
        seen = replace(seen, outcome="unclear", apart=said)
    warnings = [
        *last.sweep.interrupted,
        *angle_warnings(last.sweep, rules.sweep),
        *seen.warnings,
        *last.facing.notes,
        *step_warnings(last.alone),
    ]
    if latest != len(attempts) - 1:
        warnings.append(f"a later attempt does not count: {faults[-1][0]}")
    estimate, measured, outcome = seen.estimate, seen.measured, seen.outcome
    more = repeats_needed(
        measured,
        rules.limit_mm,
        after_looks(rule_of(method.decision), looks + 1, method.decision.repeat_share),
        u_random_mm=estimate.u_random_mm * estimate.sweeps**0.5,
        u_systematic_mm=estimate.u_systematic_mm,
        done=estimate.sweeps,
    )
    settled = not estimate.doubts and not seen.apart
    return SurfaceCheck(
        outcome=outcome,
        reason=_reason(seen, more, rules, method.decision, looks),
        limit_mm=rules.limit_mm,
        p_over=measured.p_over,
        rule=rule_name(method.decision),
        repeats_needed=(more or None) if outcome == "unclear" and settled else None,
        warnings=(
            *warnings,
            *estimate.warnings,
            *needle_warnings(last.sweep),
            *put_right_said((attempts[i] for i in sorted(seen.counted)), rules.limit_mm),
            *unit_slip(estimate.true_tir_mm, rules),
            *both_warnings(stated, on),
            *coarser_warnings(stated.gauge, last.sweep.gauge),
        ),
        doubts=estimate.doubts or None,
        excluded=excluded(last.sweep, rules, estimate.covered_deg, witnessed=last.facing.other is not None),
        looks=looks if looks > 1 else None,
        gauge=stated.gauge,
        angle_zero=last.sweep.angle_zero,
        attempts=attempt_parts(faults, seen.counted, [_tir(sweep) for sweep in attempts]),
        level_steps=steps_of(last.alone, last.facing),
        opposite=opposite_part(stated, last.facing),
        turn_to_turn_mm=None if (two := turn_to_turn(last.alone.prepared)) is None else two.sd_mm,
        **(_figures(estimate, last.facing, last.alone) | {"tir_mm": shown_mm(stated)}),
    )


@dataclass(frozen=True, slots=True)
class _Seen:
    """All valid sweeps taken together. apart: why they leave the check unclear, or empty."""

    counted: set[int]
    estimate: RunoutEstimate
    measured: Measured
    outcome: Decided
    warnings: list[str]
    apart: str = ""


def _seen_together(each: dict[int, Alone], rules: SurfaceRules, rule: Rule, coverage: float) -> _Seen:
    numbers = sorted(each)
    found = agreement_of([each[i] for i in numbers], rules)
    counted = [numbers[i] for i in found.counted]
    apart = [numbers[i] for i in found.apart]
    warnings, others = [], []
    if found.settled:
        warnings += [
            f"sweep {i + 1} ({each[i].tir_mm:.3f} mm) differs from {len(counted)} others that agree and does "
            "not count; check the base and the contact"
            for i in apart
        ]
        latest = counted[-1]
        read_by = {each[i].sweep.gauge.id for i in counted}
        if rules.repeats == "latest":
            counted = [latest]
        others = [i for i in counted if each[i].sweep.gauge != each[latest].sweep.gauge]
        counted = [i for i in counted if i not in others][-rules.max_sweeps :]
        others += [i for i in apart if each[i].sweep.gauge.id not in read_by]
    estimate = together([each[i] for i in counted], rules, seed=SEED, coverage=coverage, agree=found.settled)
    measured = _measured(estimate, rules)
    outcome = decide(measured, rules.limit_mm, rule)
    if outcome == "within" and estimate.unsure:
        outcome = "unclear"
        estimate = replace(estimate, doubts=tuple(dict.fromkeys([*estimate.doubts, *estimate.unsure])))
    sweeps = [each[i].sweep for i in counted]
    said = over_unsure(measured, rules.limit_mm, rule, coverage)
    if outcome == "over" and said is not None and all(is_sparse(sweep, rules.sweep) for sweep in sweeps):
        outcome, estimate = "unclear", replace(estimate, doubts=(*estimate.doubts, said))
    inches = inches_typed(sweeps, estimate.true_tir_mm, rules) if outcome == "within" else None
    if inches is not None:
        outcome = "unclear"
        estimate = replace(estimate, doubts=(*estimate.doubts, inches))
    nearest_mm = min((each[i].sweep.radius_mm or 0.0 for i in counted), default=0.0)
    further = limit_nearer(nearest_mm, rules)
    if outcome == "within" and decide(_measured(estimate, further), further.limit_mm, rule) != "within":
        outcome = "unclear"
        estimate = replace(estimate, doubts=(*estimate.doubts, near_said(nearest_mm, rules)))
    if found.settled:
        over = [i for i in others if _alone_outcome(each[i], rules, rule, coverage) == "over"]
        if outcome != "within" or not over:
            return _Seen(set(counted), estimate, measured, outcome, warnings)
        said = (
            f"sweep {over[-1] + 1} with {each[over[-1]].sweep.gauge.id} is over by itself "
            f"({each[over[-1]].tir_mm:.3f} mm), and another gauge does not outvote it; take it again with "
            "that one"
        )
        return _Seen(set(counted), estimate, measured, "unclear", warnings, said)
    figures = ", ".join(f"{each[i].tir_mm:.3f}" for i in numbers)
    said = (
        f"the sweeps disagree ({figures} mm, more than their noise explains); check base, contact and that "
        f"it is the same damper, then take more: {rules.outnumber} that agree set one aside"
    )
    alone = {_alone_outcome(one, rules, rule, coverage) for one in each.values()}
    if alone == {"over"}:
        return _Seen(set(counted), estimate, measured, "over", [said])
    return _Seen(set(counted), estimate, measured, "unclear", warnings, said)


def _alone_outcome(one: Alone, rules: SurfaceRules, rule: Rule, coverage: float) -> Decided:
    estimate = together([one], rules, seed=SEED, coverage=coverage)
    return decide(_measured(estimate, rules), rules.limit_mm, rule)


def _measured(estimate: RunoutEstimate, rules: SurfaceRules) -> Measured:
    return measured_figure(
        estimate.true_tir_mm,
        estimate.u_expanded_mm,
        estimate.u_random_mm,
        estimate.u_systematic_mm,
        estimate.p_over(rules.limit_mm),
    )


def _reason(seen: _Seen, more: int | None, rules: SurfaceRules, decision: Decision, looks: int) -> str:
    said = decided("true TIR", seen.outcome, seen.measured, rules.limit_mm, decision, looks=looks)
    if seen.outcome == "over":
        return f"{said}; {REMEDY}"
    if seen.outcome == "unclear":
        if seen.apart:
            return f"{said}; {seen.apart}"
        if seen.estimate.doubts:
            return f"{said}; " + "; ".join(seen.estimate.doubts)
        return f"{said}; {more_repeats(more, 'sweep')}"
    return said


def _invalid_surface(
    last: ByItself, faults: list[list[str]], rules: SurfaceRules, on: date | None
) -> SurfaceCheck:
    came, facing, sweep = last.came, last.facing, last.sweep
    sound = np.isfinite(sweep.angle_deg) & np.isfinite(sweep.value_mm)
    found = measure_coverage(replace(sweep, angle_deg=sweep.angle_deg[sound], value_mm=sweep.value_mm[sound]))
    return SurfaceCheck(
        outcome="invalid",
        reason="; ".join(faults[-1]),
        limit_mm=rules.limit_mm,
        tir_mm=_tir(came),
        covered_deg=found.covered_deg,
        largest_gap_deg=found.largest_gap_deg,
        closure_mm=found.closure_mm,
        readings=found.readings,
        warnings=(
            *sweep.interrupted,
            *angle_warnings(sweep, rules.sweep),
            *facing.notes,
            *both_warnings(came, on),
            *coarser_warnings(came.gauge, sweep.gauge),
        ),
        gauge=came.gauge,
        opposite=opposite_part(came, facing),
        angle_zero=sweep.angle_zero,
        asks=asked_of(sweep),
        attempts=attempt_parts(faults, set(), [None] * len(faults)),
    )


def _figures(estimate: RunoutEstimate, facing: Facing, last: Alone) -> dict[str, Any]:
    """The estimate's figures by their names in the result."""
    by_both = tilt_mrad(facing, last.sweep.radius_mm)
    steps = estimate.end_float_steps + len(facing.taken_off)
    return {
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
        "tilt_mrad": estimate.tilt_mrad if by_both is None else by_both,
        "end_float_steps": steps if last.sweep.surface == "face" else None,
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
    return shown_mm(sweep)
