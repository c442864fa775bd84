"""The micrometer's zero, before and after: whether the readings between are of one and the same scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

from config.method import ThicknessRules
from contract.gauge import GaugeFacts
from contract.units import NM_PER_MM
from grading.evidence import Thickness


def zeros_of(attempt: Thickness) -> list[int]:
    """What it showed there, nm, in the order in which it was looked at."""
    looks = (attempt.zero_before_nm, *attempt.zero_between_nm, attempt.zero_after_nm)
    return [nm for nm in looks if nm is not None]


def zero_shift_mm(attempts: Sequence[Thickness]) -> float | None:
    """The largest by size that the zero moved in one set of attempts, mm: from any look at it to any later
    one, as their readings are compared with each other. None where it was not read twice."""
    zeros = [nm for attempt in attempts for nm in zeros_of(attempt)]
    shifts = [(later - one) / NM_PER_MM for one, later in combinations(zeros, 2)]
    return max(shifts, key=abs, default=None)


def largest_shift_mm(sets: Sequence[Sequence[Thickness]]) -> float | None:
    """The same of the set in which it moved most: sets are not compared with each other, their places are."""
    shifts = [shift for shift in map(zero_shift_mm, sets) if shift is not None]
    return max(shifts, key=abs, default=None)


def zero_faults(attempts: Sequence[Thickness], rules: ThicknessRules) -> list[str]:
    """Why the readings do not count: the scale moved while they were taken."""
    shift = zero_shift_mm(attempts)
    if rules.zero_mm is None or shift is None or abs(shift) <= rules.zero_mm:
        return []
    return [
        f"the micrometer's zero moved by {shift:+.3f} mm while it was used, at most {rules.zero_mm:g} mm is "
        "allowed: clean its faces and the casing, set it, and read every place again"
    ]


def zero_warnings(attempts: Sequence[Thickness], rules: ThicknessRules) -> list[str]:
    """What was not looked at, where the method asks for it."""
    if rules.zero_mm is None:
        return []
    lacking = {
        when
        for attempt in attempts
        if attempt.zero_asked
        for when, value in (("before", attempt.zero_before_nm), ("after", attempt.zero_after_nm))
        if value is None
    }
    if not lacking:
        return []
    return [f"the micrometer's zero was not read {' and '.join(sorted(lacking, reverse=True))}"]


def with_shift(gauge: GaugeFacts, shift: float | None) -> GaugeFacts:
    """The gauge, whose differences may be wrong by what its zero moved too: rectangular, as by its own error
    (JCGM 100:2008, 4.3.7)."""
    return gauge if not shift else replace(gauge, mpe_mm=math.hypot(gauge.mpe_mm, shift))
