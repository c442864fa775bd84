"""Whether the plunger followed the surface at all."""

from __future__ import annotations

import numpy as np

from config.runout import SweepRules
from grading.evidence import F64, Sweep
from grading.surface.coverage import Coverage
from grading.surface.harmonics import columns
from grading.surface.observations import progress

# Orders that a surface is given when it is asked whether readings follow the crank at all, at the least and
# at most; of so many readings for each of them, two orders' are kept for level and drift.
ORDERS_LEAST, ORDERS, READINGS_PER_ORDER = 4, 12, 6
# And at the most of few readings, which say little; creeping is told from a surface by two at the least.
ORDERS_FEW = 3
# Share of the readings at each end of a turn by which it is asked whether it ends where it began.
END_SHARE = 0.03
ASK = "see that the plunger touches the surface and moves freely, then take the sweep again"


def contact_fault(sweep: Sweep, seen: Coverage, rules: SweepRules) -> str | None:
    """Why the readings say nothing of the surface, with what to do; None where they may.

    Only movements of a few steps are asked how they go with the crank: a gauge that moves further is
    moved by something, which other rules look into.
    """
    moved = float(np.ptp(sweep.value_mm))
    step = sweep.gauge.resolution_mm
    least = _least_mm(sweep, rules)
    if moved <= least + 1e-9:
        return f"the readings move by {moved:.3f} mm only while the crank turns; {ASK}"
    if not _is_asked(moved, least, rules):
        return None
    crept = seen.closure_mm if seen.closure_mm is not None else _ends_apart(sweep)
    few = sweep.angle_deg.size < rules.signs.followed_min
    by_drift, by_stairs = _followed(sweep, few=few)
    steps = rules.signs.creep_steps * step
    # The ends of a turn that was read at few stops are two places, which a surface may set apart.
    most = rules.min_followed_share if few and seen.closure_mm is None else 1.0
    creeps = abs(crept) > max(rules.signs.creep_share * moved, steps) and by_stairs <= most
    drifted = _drifted_mm(sweep)
    told = not few or (sweep.angle_deg.size >= 2 * READINGS_PER_ORDER and abs(drifted) > steps)
    stairs = told and by_stairs < rules.signs.creep_followed_min
    more = " at more stops" if few else ""
    if creeps or stairs:
        by_mm = crept if creeps else drifted
        return f"the readings creep by {by_mm:+.3f} mm a turn and do not follow the crank; {ASK}{more}"
    if by_drift < rules.min_followed_share:
        return f"the readings flicker by {moved:.3f} mm and do not follow the crank; {ASK}{more}"
    return None


def follows_unsure(sweep: Sweep, rules: SweepRules) -> list[str]:
    """Whether a small movement at few stops goes with the crank by no more than chance may give, and what to
    do; empty elsewhere."""
    n, moved = sweep.angle_deg.size, float(np.ptp(sweep.value_mm))
    if n >= rules.signs.followed_min or not _is_asked(moved, _least_mm(sweep, rules), rules):
        return []
    if _followed(sweep, few=True)[0] >= rules.signs.few_followed_maybe:
        return []
    return [f"by {n} stops a needle that goes with nothing may look so; {ASK} at more stops"]


def _least_mm(sweep: Sweep, rules: SweepRules) -> float:
    return max(rules.min_movement_steps * sweep.gauge.resolution_mm, rules.min_movement_mm)


def _is_asked(moved_mm: float, least_mm: float, rules: SweepRules) -> bool:
    return moved_mm <= max(rules.signs.small_movement * least_mm, rules.signs.small_mm)


def _ends_apart(sweep: Sweep) -> float:
    """Last readings less first ones, in mm: of a turn without overlap, whose ends are one place."""
    few = max(1, round(END_SHARE * sweep.value_mm.size))
    return float(np.mean(sweep.value_mm[-few:]) - np.mean(sweep.value_mm[:few]))


def _drifted_mm(sweep: Sweep) -> float:
    """By how much a straight line through the readings rises over the sweep."""
    return float(np.polyfit(progress(sweep), sweep.value_mm, 1)[0])


def _followed(sweep: Sweep, *, few: bool) -> tuple[float, float]:
    """Shares of the readings' variance that low orders explain: of that about level and drift, and of that
    about stairs that only rise, or only fall, as a display shows a creep of a few steps. What is fitted is
    charged for itself (adjusted as in regression)."""
    n = sweep.angle_deg.size
    each = n // READINGS_PER_ORDER
    orders = min(ORDERS_FEW, each) if few else min(ORDERS, max(ORDERS_LEAST, each - 2))
    base = np.column_stack([np.ones(n), progress(sweep)])
    left = _left(sweep, np.column_stack([base, columns(sweep.angle_deg, orders)]))

    def share(of: float) -> float:
        return 1.0 - left / of if of > 0 else 0.0

    return share(_left(sweep, base)), share(min(_left_by_stairs(sweep, rising) for rising in (True, False)))


def _left(sweep: Sweep, x: F64) -> float:
    """Variance that columns x, shape (n, m), leave over, in mm²."""
    rest = sweep.value_mm - x @ np.linalg.lstsq(x, sweep.value_mm, rcond=None)[0]
    return float(rest @ rest / max(1, x.shape[0] - x.shape[1]))


def _left_by_stairs(sweep: Sweep, rising: bool) -> float:
    """The same of the best stairs one way (isotonic regression), each stair charged for itself."""
    from scipy.optimize import isotonic_regression

    stairs = isotonic_regression(sweep.value_mm, increasing=rising)
    rest = sweep.value_mm - stairs.x
    return float(rest @ rest / max(1, rest.size - (stairs.blocks.size - 1)))
