"""Whether what was told as a turn is half of one: counts per turn, a gear ratio or marks may be set wrong.

Half a turn may end at the height and with the slope at which it began. But stretched to a whole one it is no
sum of whole waves: of half waves it is, and by no more of them than a surface has. So both are asked how well
they explain the readings: first by smooth surfaces alone, a dent that was found left out; where these do not
say no, with dents and all orders. What both favour counts, which is the less of the two. Other parts of a
turn (marks that lie nearer than is told) are no sum of whole waves either, and of half waves nearly one.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from config.runout import SweepRules
from grading.evidence import F64
from grading.runout.ways import DRAWS, FEATURE_FROM
from grading.signs.prepared import Prepared
from grading.signs.seam import ends_apart
from grading.surface.coverage import edge_of
from grading.surface.draws import draw
from grading.surface.explain import ORDERS_MAX, ORDERS_MAX_RUNNING, search_of
from grading.surface.models import Weighed, weigh
from grading.surface.observations import Wander, gather
from grading.surface.smooth import Binned
from grading.surface.spectra import spectra

HALF = 0.5


@dataclass(frozen=True, slots=True)
class HalfTurn:
    """log_odds: of half a turn against the turn that is told, both as likely before any reading; minus
    infinity where nothing can be said. tir_mm: true TIRs were it half of one, shape (m,), where it may be."""

    log_odds: float = -np.inf
    tir_mm: F64 = field(default_factory=lambda: np.zeros(0))


def half_turn(one: Prepared, level: Wander, weighed: Weighed, rules: SweepRules) -> HalfTurn:
    """How it is with this sweep. weighed: the surface as it was found, by what is told.

    The level may drift evenly in either, and no more: what else moves it would excuse ends that do not meet.
    """
    sweep = one.clean
    least_readings = rules.signs.half_turn_marks_min if one.running else rules.signs.half_turn_min
    if edge_of(one.sweep) > 0.0 or sweep.angle_deg.size < least_readings:
        return HalfTurn()
    even = Wander(level.drift_mm, 0.0, np.zeros(0))
    dent = weighed.feature if weighed.feature_probability > FEATURE_FROM else None
    shown = sweep.value_mm - float(np.mean(sweep.value_mm))
    binned, search = Binned(sweep, shown, dent=dent), search_of(sweep.gauge.resolution_mm)
    plain = binned.evidence(even, search, HALF) - binned.evidence(even, search)
    least = np.log(rules.signs.half_turn_maybe)
    apart = one.running and ends_apart(sweep, one.seen, rules)
    if plain < least and not apart:
        return HalfTurn(plain)
    data = gather(sweep, even, by_value=False)
    data = replace(data, value_mm=data.value_mm - float(np.mean(sweep.value_mm)))
    half = replace(data, angle_deg=HALF * data.angle_deg)
    orders, spread = (ORDERS_MAX_RUNNING, rules.pace_spread) if one.running else (ORDERS_MAX, 0.0)
    family = spectra(orders, spread=spread)
    whole = weigh(data, family, search).log_evidence
    found = weigh(half, family, search)
    odds = min(plain, found.log_evidence - whole)
    if odds < least and not apart:
        return HalfTurn(odds)
    return HalfTurn(odds, draw(found, np.random.default_rng(1), DRAWS).tir_mm)
