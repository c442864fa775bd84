"""What an encoder and the readings say of the angles themselves: counts lost, readings that are late."""

from __future__ import annotations

from collections.abc import Iterator

from config.runout import SweepRules
from grading.evidence import AngleSlip, Delay, Sweep

SEE_TO = "see to its coupling, its cable and its counts per turn"


def slip_faults(sweep: Sweep, rules: SweepRules) -> list[str]:
    """Where the encoder lost more than may be put back."""
    most = f"at most {rules.max_lost_angle_deg:g} degrees may be"
    return [
        f"{_said(slip)}, {most}; {SEE_TO}, then take the sweep again"
        for slip in sweep.slips
        if abs(slip.lost_deg) > rules.max_lost_angle_deg
    ]


def angle_warnings(sweep: Sweep, rules: SweepRules) -> Iterator[str]:
    """What was put back, and by what the readings' times were put right."""
    for slip in sweep.slips:
        if abs(slip.lost_deg) <= rules.max_lost_angle_deg:
            yield f"{_said(slip)}; they are put back, spread over that; {SEE_TO}"
    if sweep.delay is not None:
        yield _late(sweep.delay)


def _late(delay: Delay) -> str:
    by = f"{abs(delay.later_s) * 1e3:.1f} ms {'later' if delay.later_s >= 0.0 else 'sooner'}"
    said = (
        f"against the encoder's the gauge's readings come {by} than stated, give or take "
        f"{delay.u_s * 1e3:.1f} ms (standard): the readings show it, and their angles go by it"
    )
    stated = f"{delay.stated_u_s * 1e3:.1f} ms"
    if delay.contradicts:
        return f"{said}; stated was give or take {stated}: see to latency_s of both"
    return f"{said}; stated was give or take {stated}"


def _said(slip: AngleSlip) -> str:
    where = f"between {slip.since_deg % 360.0:.0f} and {slip.until_deg % 360.0:.0f} degrees"
    lost = f"{abs(slip.lost_deg):.1f} degrees, give or take {slip.give_deg:.1f}"
    return f"the encoder lost {lost}, {where}, by its index"
