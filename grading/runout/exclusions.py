"""What no reading of a sweep can show, said where its figures are read."""

from __future__ import annotations

import numpy as np

from config.runout import SurfaceRules
from contract.terms import TYPED
from grading.evidence import Sweep
from grading.runout.unsigned import thinned
from grading.surface.coverage import angles_run_on

# A sweep over so much shows from turn to turn what comes back within one, in degrees.
TWO_TURNS_DEG = 715.0
# The least that a switch moves a number by, as a share of it: to inches with two decimals more and less.
SMALLEST_SHARE = 1.0 - 10 / 25.4
# A display is coarse where fewer of its steps make the limit.
STEPS_PER_LIMIT = 50.0
SLOW = "a gauge that follows more slowly than the crank is barred: it shows less than there is"


def excluded(
    sweep: Sweep, rules: SurfaceRules, covered_deg: float, *, witnessed: bool = False
) -> tuple[str, ...]:
    """One phrase for each thing that the stated uncertainty does not hold. witnessed: a second indicator read
    the face half a turn away."""
    found = []
    if covered_deg < TWO_TURNS_DEG:
        found.append(
            "a base or a temperature that moves and comes back within the turn, slowly or by small slips"
        )
        if angles_run_on(sweep):
            found.append("marks that lie elsewhere than is told, where what was read meets by chance")
    if sweep.gauge.id == TYPED:
        found.append(
            "what was typed wrong all through: a part of a turn for a whole one, where its ends meet, inches "
            "for millimetres, or a dial turned past its end number where few stops or many waves hide it"
        )
        if thinned(sweep)[0].size < rules.sweep.signs.unsigned_min:
            found.append(
                f"minus signs left off, or a dial at the end of its travel: fewer than "
                f"{rules.sweep.signs.unsigned_min} stops do not show them"
            )
    else:
        found.append(SLOW)
    if sweep.gauge.resolution_mm * STEPS_PER_LIMIT > rules.limit_mm:
        found.append("a plunger held within a step or two of this coarse display: it looks like a flat crest")
    if sweep.gauge.unit_hidden:
        to = "another unit than its profile's, to which the gauge was switched before the sweep"
        found.append(to + _or_when(sweep, rules.sweep.signs.switched_leap_steps))
    asked = (
        (rules.allow.main_bearing_mm, "a crank that shifts in its main bearings"),
        (rules.allow.hysteresis_mm, "the gauge's hysteresis on reversal, beyond its permissible error"),
        (rules.allow.temperature_mm, "temperature over the sweep"),
    )
    found += [f"{what} (the method states no allowance)" for half, what in asked if half == 0.0]
    if sweep.surface == "face":
        found.append(
            "end float that comes and goes twice a turn: it is the same under both indicators"
            if witnessed
            else "end float that moves with the crank: one indicator cannot prove it"
        )
        if angles_run_on(sweep):
            found.append(
                "end float that jumps: between marks a steep place looks the same, so nothing is taken off, "
                "under two indicators either; it takes an encoder"
            )
    return tuple(found)


def _or_when(sweep: Sweep, leap_steps: float) -> str:
    """When else it may have been switched: nowhere where it was set up so far from nought that its numbers
    would have leapt."""
    leaps_mm = leap_steps * sweep.gauge.resolution_mm / SMALLEST_SHARE
    if float(np.min(np.abs(sweep.value_mm))) > leaps_mm:
        return ": its numbers do not say their unit"
    return (
        " or while it showed next to nought and the surface hardly moved: its numbers do not say their unit, "
        "and leap only where it is set up to show 0.1 mm or more all around"
    )
