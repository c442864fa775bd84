"""The method's own decision on what an oracle knows of the true TIR."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from grading.evidence import F64
from grading.surface.tir import TirDistribution
from tests.grading.adverse.day import LIMIT_MM
from tests.grading.oracle.told import Told

# The first look of the example's rule.
SURE = 0.97
# Draws are smoothed by so much, in mm.
SMOOTH_MM = 0.0002


@dataclass(frozen=True, slots=True)
class Judged:
    """outcome: within, unclear or over. estimate_mm, u_mm: of the interval of 95 %, the gauge's span error
    in it, although there is none (random_u_mm: without it)."""

    truth_mm: float
    outcome: str
    estimate_mm: float
    u_mm: float
    random_u_mm: float

    @property
    def is_over(self) -> bool:
        """Whether the truth is above the limit."""
        return self.truth_mm > LIMIT_MM


def judged(one: Told, tirs_mm: F64) -> Judged:
    """By equally likely true TIRs, shape (m,)."""
    whole = TirDistribution(tirs_mm, SMOOTH_MM, one.sweep.gauge.mpe_mm)
    over = whole.p_over(LIMIT_MM)
    outcome = "within" if over < 1 - SURE else "over" if over > SURE else "unclear"
    alone = TirDistribution(tirs_mm, SMOOTH_MM, 0.0)
    y = whole.median_mm()
    return Judged(
        one.day.truth_mm, outcome, y, whole.expanded_mm(y, 0.95), alone.expanded_mm(alone.median_mm(), 0.95)
    )


def mixed(parts: list[tuple[float, F64]], rng: np.random.Generator, count: int) -> F64:
    """Draws of several explanations, each with its log weight: as many of each as it deserves."""
    log_weight = np.array([weight for weight, _ in parts])
    share = np.exp(log_weight - log_weight.max())
    counts = rng.multinomial(count, share / share.sum())
    return np.concatenate([rng.choice(draws, n) for n, (_, draws) in zip(counts, parts, strict=True)])
