"""What answers for thickness that more than one gauge read."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from config.method import ThicknessRules
from contract.gauge import GaugeFacts


def worst_of(gauges: Sequence[GaugeFacts], rules: ThicknessRules) -> GaugeFacts:
    """The one to answer for readings of several: of each fact the worst that is stated of any. One whose
    repeatability is not known makes it unknown, but where another's is worse than the method assumes. Its id
    is that of the largest permissible error."""
    worst = max(gauges, key=lambda gauge: (gauge.mpe_mm, gauge.resolution_mm, gauge.repeatability_mm or 0.0))
    step_mm = max(gauge.resolution_mm for gauge in gauges)
    sd_mm = max((_seen_by(gauge, step_mm) for gauge in gauges), default=0.0)
    known = [gauge for gauge in gauges if gauge.repeatability_mm is not None]
    is_known = len(known) == len(gauges) or sd_mm > rules.repeatability_most_mm
    freedom = [gauge.repeatability_dof for gauge in known if gauge.repeatability_dof is not None]
    return replace(
        worst,
        resolution_mm=step_mm,
        repeatability_mm=sd_mm if is_known else None,
        repeatability_dof=min(freedom, default=None) if is_known else None,
    )


def _seen_by(gauge: GaugeFacts, step_mm: float) -> float:
    """Its repeatability through a display of that step, which lifts hold (JCGM 100:2008, F.2.2.1)."""
    sd_mm = gauge.repeatability_mm or 0.0
    if gauge.repeatability_dof is None:
        return sd_mm
    return math.sqrt(sd_mm**2 + (step_mm**2 - gauge.resolution_mm**2) / 12.0)
