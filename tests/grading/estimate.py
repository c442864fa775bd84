"""The estimate of plain sweeps as the check of a surface makes it, without its faults and its decision."""

from __future__ import annotations

from collections.abc import Sequence

from config.runout import SurfaceRules
from grading.evidence import Sweep
from grading.runout.runout import RunoutEstimate, look_at, together
from grading.signs.prepared import prepare

# Rules of a surface with no limit of its own.
ANY_SURFACE = SurfaceRules(limit_mm=1.0)


def estimate_runout(sweeps: Sequence[Sweep], *, seed: int) -> RunoutEstimate:
    """The true TIR of the surface that all these sweeps have read, oldest first."""
    each = [look_at(prepare(sweep, ANY_SURFACE.sweep), ANY_SURFACE, seed=seed) for sweep in sweeps]
    return together(each, ANY_SURFACE, seed=seed)
