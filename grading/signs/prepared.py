"""A sweep with all that was seen of it, looked at once."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from config.runout import SweepRules
from grading.evidence import Sweep
from grading.signs.jumps import Jump, find_jumps
from grading.signs.lone import Lone, find_lone
from grading.signs.still import Still, find_still
from grading.surface.coverage import Coverage, angles_run_on, edge_of, measure_coverage
from grading.surface.observations import one_turn


@dataclass(frozen=True, slots=True)
class Prepared:
    """sweep: as it came. seen: how it lies around the turn. running: whether its angles are known at marks
    only, and run on between them. used: what of it is fitted; lone: single readings that stand out there,
    of which `clean` has no spikes; jumps: of the level of `clean`; still: arcs of it that stand still."""

    sweep: Sweep
    seen: Coverage
    running: bool
    used: Sweep
    lone: Lone
    clean: Sweep
    jumps: tuple[Jump, ...]
    still: tuple[Still, ...]


def prepare(sweep: Sweep, rules: SweepRules) -> Prepared:
    """All that can be seen before a surface is fitted. The sweep must hold at least 8 finite readings."""
    running = angles_run_on(sweep)
    used = one_turn(sweep) if running else sweep
    lone = find_lone(used, rules, running=running)
    clean = without(used, lone.spikes)
    still = find_still(clean, rules, running=running)
    # Where each angle is poorly known, a steep place looks like a jump.
    jumps = find_jumps(clean, rules.signs) if edge_of(sweep) == 0.0 else ()
    return Prepared(sweep, measure_coverage(sweep), running, used, lone, clean, jumps, still)


def without(sweep: Sweep, out: NDArray[np.intp]) -> Sweep:
    """The sweep without these readings."""
    if not out.size:
        return sweep
    kept = np.delete(np.arange(sweep.angle_deg.size), out)
    return replace(
        sweep,
        angle_deg=sweep.angle_deg[kept],
        value_mm=sweep.value_mm[kept],
        angle_u_deg=sweep.angle_u_deg[kept],
        time_s=sweep.time_s[kept],
        low_mm=None if sweep.low_mm is None else sweep.low_mm[kept],
        high_mm=None if sweep.high_mm is None else sweep.high_mm[kept],
    )
