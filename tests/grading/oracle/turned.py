"""Whether half a turn was told to be one, asked of one who is told so of one sweep in two."""

from __future__ import annotations

import numpy as np

from tests.grading.oracle.judged import Judged, judged
from tests.grading.oracle.sound import sound
from tests.grading.oracle.told import Told

# Where the ratio is above this, at most one sound sweep in fifty is (Markov's inequality).
ODDS = float(np.log(50.0))


def turned(one: Told, rng: np.random.Generator) -> tuple[float, Judged]:
    """Log ratio for what is told being twice the truth; and what would be made of it as it is told."""
    told_deg = one.sweep.angle_deg
    as_told = sound(one, told_deg)
    ratio = sound(one, told_deg / 2).log_evidence - as_told.log_evidence
    return ratio, judged(one, as_told.tirs_mm(rng, 400))
