"""Whether a sweep saw the whole turn: covered angle, largest gap, closure, and reasons for `invalid`."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from config.runout import SweepRules
from contract.words import count_of
from grading.evidence import F64, Sweep

# Two angles that differ by less count as one place, in degrees: far below any encoder's step that
# matters to a surface, far above the rounding of a float.
SAME_PLACE_DEG = 1e-6
# A sweep without overlap closes where its ends are so near, in degrees; over so much on either side of the
# seam a line is laid, through so many readings at the least.
SEAM_GAP_DEG, SEAM_DEG, SEAM_READINGS = 4.0, 6.0, 3
# From this standard uncertainty on, and where it varies this much over the sweep, an angle's error runs
# on from reading to reading as it does between marks; below, it is one of each reading alone.
RUNNING_FROM_DEG, RUNNING_RATIO = 1.0, 3.0
# Angles known worse than this (standard, degrees), each by itself, blur the ends of a sweep of more readings
# than this, over so many of these uncertainties.
POOR_DEG, DENSE, EDGE_U = 0.5, 60, 2.5
# Standard deviation of the difference of two readings of one place, at the least, in mm: common practice,
# no source.
PASS_U_MM = 0.002


@dataclass(frozen=True, slots=True)
class Coverage:
    """How a sweep lies around the turn.

    covered_deg: highest minus lowest unwrapped angle. step_deg: median distance of neighbouring
    places. largest_gap_deg: around the circle. closure_mm: mean of later pass minus earlier pass
    over the same angles, a turn apart; None where nothing was passed twice. closure_u_mm: its standard
    uncertainty from what these differences scatter by, the display's step at the least. rounding_u_mm: what
    the display adds to it, as readings that share a step are rounded alike, however many they are.
    """

    readings: int
    covered_deg: float
    step_deg: float
    largest_gap_deg: float
    closure_mm: float | None
    closure_u_mm: float = 0.0
    rounding_u_mm: float = 0.0


def passes_mm(angle_deg: F64, value_mm: F64, edge_deg: float = 0.0) -> tuple[F64, F64]:
    """Where the sweep comes by the same place a turn later: (angle as barred, later pass minus earlier).

    angle_deg, value_mm: shape (n,), in order of time. Only passes a full turn apart are compared, each
    with the one before it; angles gone back over within the turn are not. Nothing nearer than edge_deg to
    either end of the sweep is: where angles are poorly known, what lies beyond an end is missing from the
    mean there. Shapes (m,), m may be 0.
    """
    if angle_deg.size < 2:
        return np.zeros(0), np.zeros(0)
    along = _along(angle_deg)
    late = _later(angle_deg, edge_deg)
    if not late.any():
        return np.zeros(0), np.zeros(0)
    order = np.argsort(along, kind="stable")
    before = np.interp(along[late] - 360.0, along[order], value_mm[order])
    return angle_deg[late], np.asarray(value_mm[late] - before)


def _along(angle_deg: F64) -> F64:
    """The same angles, rising on the whole."""
    return angle_deg if angle_deg[-1] >= angle_deg[0] else -angle_deg


def _later(angle_deg: F64, edge_deg: float) -> NDArray[np.bool_]:
    """Which readings come by a place that was passed a turn before, shape (n,)."""
    along = _along(angle_deg)
    late = along >= float(along.min()) + 360.0 + edge_deg - SAME_PLACE_DEG
    return late & (along <= float(along.max()) - edge_deg) if edge_deg > 0 else late


def closure_mm(angle_deg: F64, value_mm: F64) -> float | None:
    """How much the readings changed from one turn to the next, on average over all places passed twice,
    in mm; None where nothing was. angle_deg, value_mm: shape (n,), in order of time."""
    _, apart = passes_mm(angle_deg, value_mm)
    return float(np.mean(apart)) if apart.size else None


def measure_coverage(sweep: Sweep) -> Coverage:
    """The figures of a sweep's angles; works for any number of readings, also none."""
    angle = sweep.angle_deg
    if angle.size == 0:
        return Coverage(0, 0.0, 360.0, 360.0, None)
    places = np.unique(np.round(np.mod(angle, 360.0) / SAME_PLACE_DEG)) * SAME_PLACE_DEG
    around = np.diff(np.append(places, places[0] + 360.0))
    covered = float(angle.max() - angle.min())
    edge_deg = edge_of(sweep)
    _, apart = passes_mm(angle, sweep.value_mm, edge_deg)
    step_mm = sweep.gauge.resolution_mm
    closure, u = float(np.mean(apart)) if apart.size else None, _mean_u(apart, step_mm)
    rounding = _rounding_u(sweep.value_mm[_later(angle, edge_deg)], step_mm) if apart.size else 0.0
    if closure is None and edge_deg == 0.0:
        closure, u, rounding = _ends_mm(sweep)
    return Coverage(
        readings=int(angle.size),
        covered_deg=covered,
        step_deg=float(np.median(around)),
        largest_gap_deg=float(around.max()),
        closure_mm=closure,
        closure_u_mm=u,
        rounding_u_mm=rounding,
    )


def angles_run_on(sweep: Sweep) -> bool:
    """Whether the angles' errors are those of a pace between marks rather than of each reading."""
    if sweep.angles_run_on is not None:
        return sweep.angles_run_on
    u = sweep.angle_u_deg
    return bool(u.max() >= RUNNING_FROM_DEG and u.max() >= RUNNING_RATIO * max(float(u.min()), 1e-3))


def edge_of(sweep: Sweep) -> float:
    """How near to the ends of a sweep passes say nothing, in degrees: where each angle is poorly known."""
    u = float(np.median(sweep.angle_u_deg))
    each = u > POOR_DEG and sweep.angle_deg.size > DENSE and not angles_run_on(sweep)
    return EDGE_U * u if each else 0.0


def _ends_mm(sweep: Sweep) -> tuple[float | None, float, float]:
    """The closure of a sweep that ends where it began, without overlap: one line through the readings on
    both sides of the seam, with a step at it; its standard uncertainty, and what rounding alike adds to it.
    None where the ends are not one place, or hold too few readings."""
    angle, value = sweep.angle_deg, sweep.value_mm
    if abs(abs(float(angle[-1] - angle[0])) - 360.0) > SEAM_GAP_DEG:
        return None, 0.0, 0.0
    turn = 360.0 if angle[-1] > angle[0] else -360.0
    first, last = np.abs(angle - angle[0]) <= SEAM_DEG, np.abs(angle - angle[-1]) <= SEAM_DEG
    if min(int(first.sum()), int(last.sum())) < SEAM_READINGS:
        return None, 0.0, 0.0
    at = np.concatenate([angle[first], angle[last] - turn])
    x = np.column_stack([np.ones(at.size), at - at.mean(), np.arange(at.size) >= int(first.sum())])
    y = np.concatenate([value[first], value[last]])
    inverse = np.linalg.pinv(x.T @ x)
    found = inverse @ (x.T @ y)
    rest = y - x @ found
    least = float(np.hypot(sweep.gauge.resolution_mm / 12**0.5, PASS_U_MM / 2**0.5))
    scatter = max(float(np.sqrt(rest @ rest / max(at.size - 3, 1))), least)
    # Where an angle is wrong there, the slope makes a step of it.
    tilted = abs(float(found[1])) * 2**0.5 * float(min(sweep.angle_u_deg[0], sweep.angle_u_deg[-1]))
    u = float(np.hypot(scatter * inverse[2, 2] ** 0.5, tilted))
    rounding = max(_rounding_u(value[end], sweep.gauge.resolution_mm) for end in (first, last))
    return float(found[2]), u, rounding


def _rounding_u(value_mm: F64, step_mm: float) -> float:
    """What rounding adds to the standard uncertainty of the difference of two such passes, in mm, which takes
    each reading for rounded by itself: rectangular over a step each (JCGM 100:2008, F.2.2.1), all that share
    a step alike. On a slope whole steps average out; one of all that are shown does not."""
    alike = 1.0 - 1.0 / value_mm.size
    return float(step_mm / 6**0.5 * alike**0.5 / np.unique(value_mm).size)


def _mean_u(apart: F64, step_mm: float) -> float:
    """Standard uncertainty of the mean of such differences, in mm; one alone is known to two display
    steps and to what a gauge scatters by."""
    if apart.size == 0:
        return 0.0
    least = float(np.hypot(step_mm / 6**0.5, PASS_U_MM))
    scatter = float(np.std(apart, ddof=1)) if apart.size > 2 else 0.0
    return float(max(scatter, least) / apart.size**0.5)


def judge_coverage(sweep: Sweep, rules: SweepRules) -> list[str]:
    """Why the sweep is not good enough to be judged, one plain sentence each; empty where it is.

    A turn is full when the covered angle and one usual step make 360 degrees: readings at every 30
    degrees from 0 to 330 are one turn. From mark to mark a reading may lack at either end, and pauses at the
    marks make the usual step a short one: two mean steps then.
    """
    if not (np.isfinite(sweep.angle_deg).all() and np.isfinite(sweep.value_mm).all()):
        return ["some readings are no numbers; take the sweep again"]
    found = measure_coverage(sweep)
    reasons: list[str] = []
    if found.readings < rules.min_readings:
        reasons.append(
            f"{count_of(found.readings, 'reading')}, at least {rules.min_readings} are needed; "
            "take the sweep again"
        )
    beyond = found.step_deg
    if found.readings > 1 and angles_run_on(sweep):
        beyond = max(beyond, 2.0 * found.covered_deg / max(found.readings - 1, 1))
    if found.covered_deg + beyond < 360.0 - rules.turn_slack_deg:
        reasons.append(
            f"only {found.covered_deg:.1f} degrees were read, a full turn is needed; bar on past the start"
        )
    elif found.largest_gap_deg > rules.max_gap_deg + SAME_PLACE_DEG:
        reasons.append(
            f"a gap of {found.largest_gap_deg:.1f} degrees without a reading, at most "
            f"{rules.max_gap_deg:g} are allowed; bar slower or back over the gap"
        )
    if found.closure_mm is not None and abs(found.closure_mm) > rules.max_closure_mm + found.closure_u_mm:
        reasons.append(
            f"the second pass over the start differs by {found.closure_mm:+.3f} mm, at most "
            f"{rules.max_closure_mm:g} mm are allowed; check the base and the contact, then take it again"
        )
    return reasons
