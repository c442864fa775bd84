"""A dent that no reading has met, against a smaller one that is within the limit: two worlds, told apart by
nothing but the readings that came near it.

Whoever keeps all but 2 in 100 of the sound ones must keep so many of the others (Neyman and Pearson's lemma
for two normal distributions).
"""

from __future__ import annotations

import math

import numpy as np

from tests.grading.adverse.day import DENSE_DEG, LIMIT_MM, Mixed
from tests.grading.oracle.told import Told

# What a surface must be below the limit to be kept at all: the gauge's span error, as a share of the
# permissible one, and the rest of a sharp estimate's uncertainty, in mm.
SPAN_SHARE, REST_MM = 0.94, 0.001
# Standard deviations that one in fifty exceeds.
ONE_IN_FIFTY = 2.054


def kept_at_least(one: Told) -> float:
    """The chance that the sweep is kept by whoever keeps its twin 49 times of 50; 0 where it has none."""
    form = one.form
    assert isinstance(form, Mixed)
    most = LIMIT_MM - SPAN_SHARE * one.sweep.gauge.mpe_mm - REST_MM
    shares = np.linspace(1.0, 0.0, 41)
    base, extra = form.share * form.base(DENSE_DEG), form.size * form.extra(DENSE_DEG)
    fits = [share for share in shares if np.ptp(base + share * extra) <= most]
    if not fits:
        return 0.0
    apart = (1.0 - fits[0]) * form.size * form.extra(one.path_deg)
    noise = float(np.hypot(one.day.noise_mm, one.step_mm / 12**0.5))
    apart = apart - apart.mean()
    distance = float(np.sqrt(apart @ apart)) / noise
    return 0.5 * math.erfc((distance - ONE_IN_FIFTY) / 2**0.5)
