"""Nothing is amiss: what the guards against bad days must not cost."""

from __future__ import annotations

from collections.abc import Sequence

from grading.evidence import Sweep
from tests.grading.adverse.day import Day
from tests.grading.adverse.regime import Regime


def honest(day: Day) -> Sequence[Sweep]:
    """The honest grid at the limit."""
    return [day.read(day.take(day.form()))]


def coarse(day: Day) -> Sequence[Sweep]:
    """A good damper, TIR 0.03 to 0.1 mm, under a dial of 0.01 mm: few steps, and long spells at one value."""
    day.truth_mm = day.log_uniform(0.03, 0.1)
    day.use_gauge(0.01, 0.015)
    return [day.read(day.take(day.form()))]


REGIMES = (
    Regime("honest", "honest at the limit", honest, invalid_max=0.02),
    Regime("honest", "honest, coarse dial, small", coarse, invalid_max=0.005),
)
