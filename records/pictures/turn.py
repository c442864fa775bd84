"""The polar picture of one inspection, from its readings and its result."""

from __future__ import annotations

from contract.result import Result, SurfaceCheck
from contract.words import count_of
from grading.evidence import Inspection, Sweep
from records.pictures.polar import Surface, polar_svg

FOOT = (
    "Between the dashed circles: the limit. Arrowhead: high spot. Crank angle clockwise from the top. "
    "Deviations magnified."
)


def picture(evidence: Inspection, result: Result) -> str | None:
    """An SVG document with the latest sweep of each surface; None where nothing was swept."""
    surfaces = []
    for name, check in (("rim", result.checks.rim), ("face", result.checks.face)):
        sweeps = [attempt for attempt in evidence.attempts.get(name, ()) if isinstance(attempt, Sweep)]
        if check is not None and sweeps and len(sweeps[-1].value_mm) > 1:
            surfaces.append(_surface(name, sweeps[-1], check))
    if not surfaces:
        return None
    what = f"Damper {result.damper.serial}, engine {result.engine.serial}"
    return polar_svg(surfaces, title=f"{what}, {result.opened[:10]}: {result.verdict}", foot=FOOT)


def _surface(name: str, sweep: Sweep, check: SurfaceCheck) -> Surface:
    figures = []
    if check.true_tir_mm is not None and check.u_expanded_mm is not None:
        figures.append(f"true TIR {check.true_tir_mm:.3f} ± {check.u_expanded_mm:.3f} mm")
    if check.high_spot_deg is not None:
        figures.append(f"high spot at {check.high_spot_deg:.0f}°")
    if check.covered_deg is not None:
        figures.append(f"{check.covered_deg:.0f}° covered by {count_of(len(sweep.value_mm), 'reading')}")
    tir_mm = float(sweep.value_mm.max() - sweep.value_mm.min())
    return Surface(
        name=name,
        outcome=check.outcome,
        angle_deg=[float(angle) for angle in sweep.angle_deg],
        value_mm=[float(value) for value in sweep.value_mm],
        limit_mm=check.limit_mm,
        tir_mm=tir_mm if check.tir_mm is None else check.tir_mm,
        high_spot_deg=check.high_spot_deg,
        figures=figures,
    )
