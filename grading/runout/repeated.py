"""How well two turns of one sweep repeat: what changed at a place from one to the next, beside its level."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from grading.evidence import F64, Sweep
from grading.signs.prepared import Prepared
from grading.signs.scatter import scatter_mm
from grading.surface.coverage import edge_of, passes_mm

# Degrees: two turns less what a sweep may fall short of; a place is so wide, and so many are passed twice.
TWO_TURNS_DEG, PLACE_DEG, PLACES_MIN = 715.0, 10.0, 30
# From mark to mark angles are known at the marks: where they are no worse than this, times the best of all;
# and so many marks there must be.
AT_MARK, MARKS_MIN = 1.2, 3
DOF = 2
"""What differs from turn to turn is mostly one wave: a cosine and a sine."""


@dataclass(frozen=True, slots=True)
class TurnToTurn:
    """sd_mm: standard deviation of one turn's reading at a place. beyond_mm: of it, what the noise of single
    readings does not explain, in a highest less a lowest of what the fit takes together."""

    sd_mm: float
    beyond_mm: float


def turn_to_turn(one: Prepared) -> TurnToTurn | None:
    """Of a sweep of two turns or more; None where it holds fewer, or too few places twice."""
    sweep = one.sweep if one.running else one.clean  # from mark to mark that holds one turn at most
    if float(np.ptp(sweep.angle_deg)) < TWO_TURNS_DEG:
        return None
    place, apart = _at_marks(one.sweep) if one.running else _anywhere(sweep)
    _, label = np.unique(place, return_inverse=True)
    count = np.bincount(label, minlength=1).astype(float)
    if place.size == 0 or count.size < (MARKS_MIN if one.running else PLACES_MIN):
        return None
    mean = np.bincount(label, apart) / count
    variance = float(np.var(mean, ddof=1)) / 2
    noise = 0.0 if one.running else float(np.mean(scatter_mm(sweep) ** 2 / count))
    # A turn from mark to mark is fitted alone, others are taken together.
    turns = 1.0 if one.running else 2.0
    beyond = 2.0 * max(variance - noise, 0.0) / turns
    return TurnToTurn(variance**0.5, beyond**0.5)


def _anywhere(sweep: Sweep) -> tuple[F64, F64]:
    """Each reading's place and what it shows more than a turn before, shape (m,) each."""
    angle, apart = passes_mm(sweep.angle_deg, sweep.value_mm, edge_of(sweep))
    return np.floor(np.mod(angle, 360.0) / PLACE_DEG), apart


def _at_marks(sweep: Sweep) -> tuple[F64, F64]:
    """The same of the marks, by the middle reading at each: the crank stands there."""
    at = sweep.angle_u_deg <= AT_MARK * float(sweep.angle_u_deg.min())
    mark = np.round(sweep.angle_deg[at])
    middle = {float(m): float(np.median(sweep.value_mm[at][mark == m])) for m in np.unique(mark)}
    twice = [m for m in middle if m - 360.0 in middle]
    return np.mod(np.array(twice), 360.0), np.array([middle[m] - middle[m - 360.0] for m in twice])
