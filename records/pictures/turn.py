"""The polar picture of one inspection, from its readings and its result."""

from __future__ import annotations

from contract.result import Result, SurfaceCheck
from contract.words import count_of
from grading.evidence import Inspection, Sweep
from records.pictures.polar import Panel, polar_svg

FOOT = (
    "Between the dashed circles: the limit. Arrowhead: high spot. Deviations magnified, by the scale. "
    "A diagram of the readings and no view of the damper: crank angle, rising as the engine runs, clockwise "
    "from the top."
)
# The method that ships: its limits are an example's, and the engine maker's own rule.
EXAMPLE = "example"


def picture(evidence: Inspection, result: Result) -> str | None:
    """An SVG document with the latest sweep of each surface; None where nothing was swept."""
    surfaces = []
    for name, check in (("rim", result.checks.rim), ("face", result.checks.face)):
        sweeps = [attempt for attempt in evidence.attempts.get(name, ()) if isinstance(attempt, Sweep)]
        if check is not None and sweeps and len(sweeps[-1].value_mm) > 1:
            surfaces.append(_surface(name, sweeps[-1], check, is_example=result.method.id == EXAMPLE))
    if not surfaces:
        return None
    what = f"Damper {result.damper.serial}, engine {result.engine.serial}"
    title = f"{what}, {result.opened[:10]}: {result.verdict}"
    return polar_svg(surfaces, title=title, under=_under(result), foot=FOOT)


def _under(result: Result) -> str:
    """Which inspection, who signed it, and by what method."""
    signed = (
        f"signed by {result.signed_by}" if result.signed_by is not None else f"{result.state}, not signed"
    )
    method = f"method {result.method.id} {result.method.version}"
    if result.method.id == EXAMPLE:
        method += ": example limits, the engine maker's manual rules"
    return f"Inspection {result.inspection}, {signed}; {method}"


def _surface(name: str, sweep: Sweep, check: SurfaceCheck, *, is_example: bool) -> Panel:
    deciding = None
    if check.true_tir_mm is not None and check.u_expanded_mm is not None and check.outcome != "invalid":
        deciding = f"{check.true_tir_mm:.3f} ± {check.u_expanded_mm:.3f}"
    figures = []
    if check.tir_mm is not None:
        figures.append(f"a dial shows {check.tir_mm:.3f} mm")
    if check.high_spot_deg is not None:
        figures.append(f"high spot at {check.high_spot_deg:.0f}°")
    if check.covered_deg is not None:
        figures.append(f"{check.covered_deg:.0f}° covered by {count_of(len(sweep.value_mm), 'reading')}")
    if check.gauge is not None:
        due = (
            "" if check.gauge.calibration_due is None else f", calibration due {check.gauge.calibration_due}"
        )
        figures.append(f"gauge {check.gauge.id}, step {check.gauge.resolution_mm:g} mm{due}")
    return Panel(
        name=name,
        outcome=check.outcome,
        angle_deg=[float(angle) for angle in sweep.angle_deg],
        value_mm=[float(value) for value in sweep.value_mm],
        limit_mm=check.limit_mm,
        deciding=deciding,
        high_spot_deg=check.high_spot_deg,
        figures=figures,
        limit_is="example limit" if is_example else "limit",
    )
