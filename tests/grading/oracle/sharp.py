"""How sharp an estimate can be: the honest grid's 0.01 mm display at 150 readings a turn and more.

Two oracles are told noise, true angles and the gauge's span error; one also a dent's place and form. The
likelihood of the display's steps is exact.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from grading.surface.tir import TirDistribution
from tests.grading.adverse.day import GAUGES
from tests.grading.estimate import estimate_runout
from tests.grading.oracle.sought import sought
from tests.grading.oracle.sound import sound
from tests.grading.oracle.told import READINGS_MAX, Told, ToldDay

READINGS_MIN = 150


@dataclass(frozen=True, slots=True)
class Errors:
    """Estimate less truth, the gauge's span error taken out, in mm. told: by who is told the dent; sought: by
    who has to find it. by_marks, is_dented: of the sweep."""

    ours: float
    told: float
    sought: float
    by_marks: bool
    is_dented: bool


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
    without = float(np.median(sought(one, np.random.default_rng(number), 800)))
    found = estimate_runout([one.sweep], seed=number)
    made = TirDistribution(found.distribution.centres_mm, found.distribution.sd_mm, 0.0).median_mm()
    by_marks, is_dented = day.source == "marks", day.shape.height != 0.0
    return Errors(made - seen_mm, best - seen_mm, without - seen_mm, by_marks, is_dented)
