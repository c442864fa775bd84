"""Why a sweep of a surface is not graded, beside what its readings show to be no surface."""

from __future__ import annotations

import numpy as np

from config.runout import SurfaceRules
from contract.result import StopPart, StopQuestionPart
from contract.words import count_of
from grading.evidence import Sweep
from grading.runout.runout import READINGS_MIN, Alone
from grading.signs.angles import slip_faults
from grading.signs.faults import slip_said
from grading.signs.jumps import find_jumps
from grading.signs.levels import return_fault
from grading.surface.coverage import angles_run_on, judge_coverage, measure_coverage


def sweep_faults(sweep: Sweep, rules: SurfaceRules) -> list[str]:
    """A turn that is not whole, of which too much was lost, or whose encoder lost its place by too much."""
    if sweep.question is not None:
        return [sweep.question.said]
    faults = judge_coverage(sweep, rules.sweep)
    if faults:
        faults += _why_open(sweep, rules)
    faults += slip_faults(sweep, rules.sweep)
    share = sweep.lost / max(sweep.lost + sweep.angle_deg.size, 1)
    if share > rules.sweep.max_lost_share:
        faults.append(
            f"{count_of(sweep.lost, 'reading')} {'was' if sweep.lost == 1 else 'were'} lost ({share:.0%}), "
            f"at most {rules.sweep.max_lost_share:.0%} may be; check the gauge's cable, then take the sweep "
            "again"
        )
    return faults


def asked_of(sweep: Sweep) -> StopQuestionPart | None:
    """Which stop was at a mark, where there are any to choose from."""
    asked = sweep.question
    if asked is None or not asked.stops:
        return None
    stops = tuple(StopPart(at_s=at_s, lasted_s=lasted_s) for at_s, lasted_s in asked.stops)
    return StopQuestionPart(mark_deg=asked.mark_deg, stops=stops)


def _why_open(sweep: Sweep, rules: SurfaceRules) -> list[str]:
    """Of a turn that does not close: where its level jumped, if that is all of it."""
    if sweep.angle_deg.size < READINGS_MIN or not np.isfinite(sweep.value_mm + sweep.angle_deg).all():
        return []
    seen = measure_coverage(sweep)
    if seen.closure_mm is None or abs(seen.closure_mm) <= rules.sweep.max_closure_mm + seen.closure_u_mm:
        return []
    if angles_run_on(sweep):
        return []
    said = return_fault(sweep, rules.sweep)
    if said is None:
        said = slip_said(sweep, seen, find_jumps(sweep, rules.sweep.signs), rules.sweep)
    return [] if said is None else [said]


def scatter_faults(one: Alone, rules: SurfaceRules) -> list[str]:
    """Readings that scatter about any surface by more than a share of the limit are no sweep of one."""
    allowed_mm = rules.sweep.max_scatter_share * rules.limit_mm
    scatter_mm = one.figures.residual_rms_mm
    if scatter_mm <= allowed_mm:
        return []
    return [
        f"the readings scatter by {scatter_mm:.3f} mm about any surface that turns, at most "
        f"{allowed_mm:g} mm are allowed; check contact, base and cable, then take it again"
    ]
