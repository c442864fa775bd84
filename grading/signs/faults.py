"""Why a sweep may not be judged although it covers the turn: one plain sentence for each disturbance."""

from __future__ import annotations

import numpy as np

from config.runout import SweepRules
from grading.evidence import Sweep
from grading.signs.contact import contact_fault
from grading.signs.jumps import Jump
from grading.signs.levels import return_fault
from grading.signs.lone import Lone
from grading.signs.prepared import Prepared
from grading.signs.seam import seam_fault
from grading.signs.still import Still
from grading.surface.coverage import Coverage


def disturbances(one: Prepared, rules: SweepRules) -> list[str]:
    """What moved the readings, or kept them from moving, and is no surface; empty where nothing shows."""
    fault = contact_fault(one.sweep, one.seen, rules)
    if fault is not None:
        return [fault]
    found: list[str | None] = [_spikes_said(one.lone, one.used, rules), _lone_said(one.used, one.lone, rules)]
    found += [still_said(still) for still in one.still if still.proven][:1]
    if not one.running:
        # Passes over one place cannot be compared where angles are known at marks only, nor both sides of
        # a gap.
        returned = return_fault(one.clean, rules)
        found = [returned, *found, seam_fault(one.clean, rules)]
        if one.sweep.surface == "rim" and returned is None:
            found.append(slip_said(one.clean, one.seen, one.jumps, rules))
    return [said for said in found if said is not None]


def _spikes_said(lone: Lone, sweep: Sweep, rules: SweepRules) -> str | None:
    allowed = max(rules.signs.spikes_free, int(rules.max_spike_share * sweep.angle_deg.size))
    if lone.spikes.size <= allowed:
        return None
    return (
        f"{lone.spikes.size} single readings jump away, at most {allowed} may be; check cable and contact, "
        "then take the sweep again"
    )


def _lone_said(sweep: Sweep, lone: Lone, rules: SweepRules) -> str | None:
    if not lone.doubtful.size:
        return None
    rest = np.delete(sweep.value_mm, np.concatenate([lone.doubtful, lone.spikes]))
    allowed = rules.max_lone_share * max(float(np.ptp(rest)), sweep.gauge.resolution_mm)
    far = [i for i in lone.doubtful if abs(float(lone.by_mm[i])) > allowed]
    if not far:
        return None
    said = ", ".join(
        f"{sweep.value_mm[i]:.3f} mm at {float(sweep.angle_deg[i]) % 360.0:.0f} degrees" for i in far[:3]
    )
    these = "this reading does" if len(far) == 1 else "these readings do"
    return f"{these} not fit all others: {said}; read that place again"


def still_said(still: Still) -> str:
    """What an arc that stands still asks for."""
    value = still.value_mm
    where = f"from {still.from_deg % 360.0:.0f} to {still.to_deg % 360.0:.0f} degrees"
    if still.rested:
        return (
            f"the readings stand still at {value:.3f} mm {where}: the crank stood there, or the plunger was "
            "held or at the end of its travel; see that it moves freely and has travel left, then take the "
            "sweep again and bar past that place without a stop, or use an encoder"
        )
    if still.at_end:
        return (
            f"the readings stand at {value:.3f} mm {where} while the crank turns: the end of the gauge's "
            "travel, or a plunger that sticks; set the indicator to the middle of its travel, see that it "
            "moves freely, then take the sweep again"
        )
    return (
        f"the readings stand still at {value:.3f} mm {where} while the crank turns: the plunger sticks or "
        "has lost contact; see that it moves freely, then take the sweep again"
    )


HALF_TURN = (
    "what was read is more like half a turn than a whole one; check counts per turn, gear ratio and marks, "
    "and that base and plunger stayed where they were, then take the sweep again"
)
"""What angles ask for whose turn is likely to be half of one."""
HALF_TURN_MAYBE = (
    "what was read may be half a turn: it is explained nearly as well by one; check counts per turn and gear "
    "ratio, and bar two turns"
)


def ends_said(closure_mm: float) -> str:
    """What a turn from mark to mark asks for that does not end where it began."""
    return (
        f"the turn ends {closure_mm:+.3f} mm from where it began: marks may lie elsewhere than is told, or "
        "the base moved; check both, and bar two turns"
    )


def switched_said(at_deg: float, *, sure: bool) -> str:
    """What readings ask for that go on at another scale."""
    seems = "the gauge's unit was switched" if sure else "the gauge's unit may have been switched"
    return (
        f"{seems} at {at_deg % 360.0:.0f} degrees, where it showed next to nought: its numbers go on by "
        "another scale; see which unit it shows, set it up so that it shows 0.1 mm or more all around, as a "
        "switch is noticed then, and take the sweep again"
    )


def slip_said(sweep: Sweep, seen: Coverage, jumps: tuple[Jump, ...], rules: SweepRules) -> str | None:
    """A jump of the level that is still there a turn later: nothing on the surface does that. On a face the
    crankshaft may have slid."""
    if not jumps or seen.closure_mm is None:
        return None
    net, signs = sum(jump.height_mm for jump in jumps), rules.signs
    apart = abs(seen.closure_mm - net)
    allowed = max(signs.slip_u * seen.closure_u_mm, signs.slip_share * abs(net), signs.slip_mm)
    if abs(net) < rules.max_slip_mm or abs(seen.closure_mm) < rules.max_slip_mm or apart > allowed:
        return None
    most = max(jumps, key=lambda jump: abs(jump.height_mm))
    at = float(sweep.angle_deg[most.after]) % 360.0
    what, hold = "base or plunger slipped", ""
    if sweep.surface == "face":
        what = f"the crankshaft slid along its axis, or {what}"
        hold = "hold the crankshaft to one end of its float, "
    return (
        f"the level jumped by {most.height_mm:+.3f} mm at {at:.0f} degrees and stayed: {what}; {hold}fasten "
        "the base, then take the sweep again"
    )
