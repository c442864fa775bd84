"""An arc over which the readings stand still, against what the rest of the turn leaves possible there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from config.signs import Signs
from grading.evidence import F64
from grading.signs.prepared import Prepared, without
from grading.signs.still import Still, may_pass_by, single_noise
from grading.surface.draws import Probe, draw
from grading.surface.explain import explain
from grading.surface.observations import Wander, progress

# Places along the arc that are asked for.
PLACES = 8


@dataclass(frozen=True, slots=True)
class Held:
    """share: of all surfaces that the rest of the turn leaves possible, how many pass where the readings
    stood. hides_none: the same where angles are known one by one; from mark to mark, where a reading may have
    come from any place of the arc, how many go neither higher nor lower in it than what was read, too.
    tir_mm: their true TIRs, shape (m,)."""

    share: float
    hides_none: float
    tir_mm: F64


def hold_against(
    one: Prepared,
    still: Still,
    wander: Wander,
    spread: float,
    rng: np.random.Generator,
    count: int,
    signs: Signs,
) -> Held | None:
    """The surface from all readings outside the arc, asked what lies in it; None where too few are left."""
    sweep = one.clean
    into = np.mod(sweep.angle_deg - still.from_deg, 360.0)
    inside = np.flatnonzero(into <= still.to_deg - still.from_deg)
    rest = without(sweep, inside)
    if rest.angle_deg.size < signs.held_rest_min:
        return None
    posterior = explain([rest], [wander], spread=spread)
    arc = np.linspace(still.from_deg, still.to_deg, PLACES + 2)[1:-1]
    order = np.argsort(sweep.angle_deg, kind="stable")
    at = np.interp(arc, sweep.angle_deg[order], progress(sweep)[order])
    surfaces = draw(posterior.weighed, rng, count, Probe(arc, wander.columns(at)))
    assert surfaces.probed_mm is not None
    said = surfaces.probed_mm + float(np.mean(rest.value_mm))
    shown = np.interp(arc, sweep.angle_deg[order], sweep.value_mm[order])
    allowed = may_pass_by(sweep.gauge.resolution_mm, single_noise(sweep), signs)
    passes = np.max(np.abs(said - shown), axis=1) < allowed
    stood = sweep.value_mm[inside]
    no_further = (said.max(axis=1) < stood.max() + allowed) & (said.min(axis=1) > stood.min() - allowed)
    hides_none = passes | no_further if spread > 0 else passes
    return Held(float(np.mean(passes)), float(np.mean(hides_none)), surfaces.tir_mm)
