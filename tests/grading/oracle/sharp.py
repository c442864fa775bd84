"""How sharp an estimate can be: the honest grid's 0.01 mm display at 150 readings a turn and more.

The oracle is told what any is, and the gauge's span error; the likelihood of the display's steps is exact.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from grading.surface.tir import TirDistribution
from tests.grading.adverse.day import GAUGES
from tests.grading.estimate import estimate_runout
from tests.grading.oracle.sound import sound
from tests.grading.oracle.told import READINGS_MAX, Told, ToldDay

READINGS_MIN = 150


@dataclass(frozen=True, slots=True)
class Errors:
    """Estimate less truth, the gauge's span error taken out, in mm."""

    ours: float
    oracle: float


def sharp(number: int, seed: int) -> Errors:
    """Of the sweep of this number."""
    day = ToldDay(seed, "sharp", number)
    day.use_gauge(*GAUGES[0])
    day.per_turn = round(day.log_uniform(READINGS_MIN, READINGS_MAX))
    day.truth_mm = day.log_uniform(0.03, 0.6)
    one = Told(day, day.read(day.take(day.form())))
    seen_mm = day.truth_mm + day.instrument.span_mm
    # Its draws are of the surface as the gauge stretches it.
    best = float(np.median(sound(one).tirs_mm(np.random.default_rng(number), 800)))
    found = estimate_runout([one.sweep], seed=number)
    made = TirDistribution(found.distribution.centres_mm, found.distribution.sd_mm, 0.0).median_mm()
    return Errors(made - seen_mm, best - seen_mm)
