"""Whether a sweep saw the whole turn: covered angle, largest gap, closure, and reasons for `invalid`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from grading.evidence import F64, Sweep

# Two angles that differ by less count as one place, in degrees: far below any encoder's step that
# matters to a surface, far above the rounding of a float.
SAME_PLACE_DEG = 1e-6
# How much a turn may fall short of 360 degrees before it is no full turn, in degrees: typed angles
# are whole degrees.
TURN_SLACK_DEG = 0.5


class SweepLimits(Protocol):
    """What the method demands of a sweep before its figures may be judged."""

    @property
    def min_readings(self) -> int:
        """Fewest readings in one turn."""

    @property
    def max_gap_deg(self) -> float:
        """Largest angle without a reading, around the circle."""

    @property
    def max_closure_mm(self) -> float:
        """Largest difference between two passes over the same angle."""


@dataclass(frozen=True, slots=True)
class Coverage:
    """How a sweep lies around the turn.

    covered_deg: highest minus lowest unwrapped angle. step_deg: median distance of neighbouring
    places. largest_gap_deg: around the circle. closure_mm: mean of second pass minus first pass
    over the same angles; None where nothing was passed twice.
    """

    readings: int
    covered_deg: float
    step_deg: float
    largest_gap_deg: float
    closure_mm: float | None


def closure_mm(angle_deg: F64, value_mm: F64) -> float | None:
    """Mean difference (second pass minus first) where the sweep runs past its own beginning, in mm.

    angle_deg, value_mm: shape (n,), in order of time. Only the parts a full turn apart are compared;
    angles gone back over within the turn are not. None where no reading lies a full turn after
    another.
    """
    if angle_deg.size < 2:
        return None
    forward = angle_deg[-1] >= angle_deg[0]
    along = angle_deg if forward else -angle_deg
    start = float(along.min())
    late = along >= start + 360.0 - SAME_PLACE_DEG
    if not late.any():
        return None
    first = ~late
    order = np.argsort(along[first], kind="stable")
    x, y = along[first][order], value_mm[first][order]
    return float(np.mean(value_mm[late] - np.interp(along[late] - 360.0, x, y)))


def measure_coverage(sweep: Sweep) -> Coverage:
    """The figures of a sweep's angles; works for any number of readings, also none."""
    angle = sweep.angle_deg
    if angle.size == 0:
        return Coverage(0, 0.0, 360.0, 360.0, None)
    places = np.unique(np.round(np.mod(angle, 360.0) / SAME_PLACE_DEG)) * SAME_PLACE_DEG
    around = np.diff(np.append(places, places[0] + 360.0))
    covered = float(angle.max() - angle.min())
    return Coverage(
        readings=int(angle.size),
        covered_deg=covered,
        step_deg=float(np.median(around)),
        largest_gap_deg=float(around.max()),
        closure_mm=closure_mm(angle, sweep.value_mm),
    )


def judge_coverage(sweep: Sweep, limits: SweepLimits) -> list[str]:
    """Why the sweep is not good enough to be judged, one plain sentence each; empty where it is.

    A turn is full when the covered angle and one usual step make 360 degrees: readings at every 30
    degrees from 0 to 330 are one turn.
    """
    if not (np.isfinite(sweep.angle_deg).all() and np.isfinite(sweep.value_mm).all()):
        return ["some readings are no numbers; take the sweep again"]
    found = measure_coverage(sweep)
    reasons: list[str] = []
    if found.readings < limits.min_readings:
        reasons.append(
            f"{found.readings} readings, at least {limits.min_readings} are needed; take the sweep again"
        )
    if found.covered_deg + found.step_deg < 360.0 - TURN_SLACK_DEG:
        reasons.append(
            f"only {found.covered_deg:.1f} degrees were read, a full turn is needed; bar on past the start"
        )
    elif found.largest_gap_deg > limits.max_gap_deg + SAME_PLACE_DEG:
        reasons.append(
            f"a gap of {found.largest_gap_deg:.1f} degrees without a reading, at most "
            f"{limits.max_gap_deg:g} are allowed; bar slower or back over the gap"
        )
    if found.closure_mm is not None and abs(found.closure_mm) > limits.max_closure_mm:
        reasons.append(
            f"the second pass over the start differs by {found.closure_mm:+.3f} mm, at most "
            f"{limits.max_closure_mm:g} mm are allowed; check the base and the contact, then take it again"
        )
    return reasons
