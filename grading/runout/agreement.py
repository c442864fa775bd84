"""Which sweeps of one surface agree, and which stand apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from config.runout import SurfaceRules
from grading.runout.runout import Alone


@dataclass(frozen=True, slots=True)
class Agreement:
    """Indices into the sweeps, oldest first. counted: those whose figures count. apart: those that differ
    from them. settled: whether those apart are none, or outnumbered as the method asks."""

    counted: tuple[int, ...]
    apart: tuple[int, ...]
    settled: bool


def agreement_of(each: Sequence[Alone], rules: SurfaceRules) -> Agreement:
    """The largest set of sweeps that agree with each other, the latest one's where two are as large.

    Where those apart are not outnumbered, all count: none of them may be taken for the truth.
    """
    count = len(each)
    best: tuple[int, ...] = ()
    for start in range(count - 1, -1, -1):
        group = [start]
        for i in range(count - 1, -1, -1):
            if i != start and all(agree(each[i], each[j], rules) for j in group):
                group.append(i)
        if len(group) > len(best):
            best = tuple(sorted(group))
    apart = tuple(i for i in range(count) if i not in best)
    if not apart or len(best) >= rules.outnumber * len(apart):
        return Agreement(best, apart, True)
    return Agreement(tuple(range(count)), apart, False)


def agree(one: Alone, other: Alone, rules: SurfaceRules) -> bool:
    """By no more than chance allows; what a gauge does wrong, it does wrong in both."""
    squares = one.u_mm**2 + other.u_mm**2
    if one.sweep.gauge.id != other.sweep.gauge.id:
        squares += (one.sweep.gauge.mpe_mm**2 + other.sweep.gauge.mpe_mm**2) / 3
    step = max(one.sweep.gauge.resolution_mm, other.sweep.gauge.resolution_mm)
    return bool(abs(one.tir_mm - other.tir_mm) <= max(rules.agree_u * squares**0.5, step))
