"""The polar pictures of one inspection, from its readings or from its result alone."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from contract.lengths import UNITS, LengthUnit
from contract.result import Result, SurfaceCheck
from contract.words import count_of
from grading.evidence import Inspection, Sweep
from records.pictures.polar import Panel, polar_svg

LEGEND = (
    "Between the dashed circles: the limit. Arrowhead: high spot; bar to its angle and it is under the "
    "plunger. Deviations magnified, by the scale."
)
SEEN = (
    "Seen from the front of the damper, the crank at 0° (the timing mark at its pointer), the plunger's "
    "place drawn at the top, the engine running clockwise, as the arrow outside shows."
)
NOT_ZEROED = (
    "The timing mark was not told: 0° is only where the encoder counts from. With the mark under its "
    "pointer, zero tells it."
)
FROM_RESULT = "Drawn from the harmonics of the result: the readings are not at hand."
TIMING_MARK = "0° timing mark"
# The method that ships: its limits are an example's, and the engine maker's own rule.
EXAMPLE = "example"
# Where there are no readings at hand a surface is drawn every so many degrees.
STEP_DEG = 1


@dataclass(frozen=True, slots=True)
class Drawn:
    """A surface's picture. of_readings: else of the harmonics and features that the result states."""

    panel: Panel
    of_readings: bool


def picture(evidence: Inspection | None, result: Result) -> str | None:
    """An SVG document with each surface as far as it can be drawn, and from what; None where none can be."""
    drawn = list(drawn_surfaces(result, evidence))
    if not drawn:
        return None
    without = " and ".join(one.panel.name for one in drawn if not one.of_readings)
    unzeroed = any(one.panel.zero != TIMING_MARK for one in drawn)
    foot = (
        f"{LEGEND} {SEEN}"
        + (f" {NOT_ZEROED}" if unzeroed else "")
        + (f" {without}: {FROM_RESULT[0].lower()}{FROM_RESULT[1:]}" if without else "")
    )
    what = f"Damper {result.damper.serial}, engine {result.engine.serial}"
    title = f"{what}, {result.opened[:10]}: {result.verdict}"
    return polar_svg([one.panel for one in drawn], title=title, under=_under(result), foot=foot)


def drawn_surfaces(
    result: Result, evidence: Inspection | None, unit: LengthUnit = UNITS["mm"]
) -> Iterator[Drawn]:
    """Rim and face, each as far as it can be drawn: the latest sweep that counts, else the latest one; where
    the readings are not at hand, what the result says of the surface."""
    for name, check in (("rim", result.checks.rim), ("face", result.checks.face)):
        if check is None or check.limit_mm <= 0.0:
            continue
        sweep = _sweep(evidence, name, check)
        if sweep is not None:
            angles, values = [float(a) for a in sweep.angle_deg], [float(v) for v in sweep.value_mm]
        elif check.harmonics and check.outcome != "invalid":
            angles, values = list(map(float, range(0, 360 + STEP_DEG, STEP_DEG))), []
            values = [_height(check, angle) for angle in angles]
        else:
            continue
        is_example = result.method.id == EXAMPLE
        panel = _panel(name, check, angles, values, sweep, unit, is_example=is_example)
        yield Drawn(panel, of_readings=sweep is not None)


def _sweep(evidence: Inspection | None, name: str, check: SurfaceCheck) -> Sweep | None:
    attempts = evidence.attempts.get(name, ()) if evidence is not None else ()
    counted = [part.number - 1 for part in check.attempts or () if part.counted]
    number = max((n for n in counted if n < len(attempts)), default=len(attempts) - 1)
    sweep = attempts[number] if attempts else None
    return sweep if isinstance(sweep, Sweep) and len(sweep.value_mm) > 1 else None


def _height(check: SurfaceCheck, angle_deg: float) -> float:
    """What the result says of the surface at one angle: its harmonics, and each dent or bulge as a raised
    cosine of its width."""
    height = sum(
        part.amplitude_mm * math.cos(math.radians(part.order * (angle_deg - part.phase_deg)))
        for part in check.harmonics or ()
    )
    for part in check.features or ():
        apart = abs((angle_deg - part.angle_deg + 180.0) % 360.0 - 180.0)
        if 2.0 * apart < part.width_deg:
            height += part.height_mm * (1.0 + math.cos(2.0 * math.pi * apart / part.width_deg)) / 2.0
    return height


def _under(result: Result) -> str:
    """Which inspection, who signed it, and by what method."""
    signed = (
        f"signed by {result.signed_by}" if result.signed_by is not None else f"{result.state}, not signed"
    )
    method = f"method {result.method.id} {result.method.version}"
    if result.method.id == EXAMPLE:
        method += ": example limits, the engine maker's manual rules"
    return f"Inspection {result.inspection}, {signed}; {method}"


def _panel(
    name: str,
    check: SurfaceCheck,
    angle_deg: Sequence[float],
    value_mm: Sequence[float],
    sweep: Sweep | None,
    unit: LengthUnit,
    *,
    is_example: bool,
) -> Panel:
    deciding = None
    if check.true_tir_mm is not None and check.u_expanded_mm is not None and check.outcome != "invalid":
        deciding = f"{unit.number(check.true_tir_mm)} ± {unit.number(check.u_expanded_mm)}"
    figures = []
    if check.tir_mm is not None:
        figures.append(f"a dial shows {unit.length(check.tir_mm)}")
    if check.high_spot_deg is not None:
        high = f"{check.high_spot_deg:.0f}°"
        figures.append(f"high spot at {high}: bar to {high}, it is under the plunger")
    if sweep is not None and check.covered_deg is not None:
        figures.append(f"{check.covered_deg:.0f}° covered by {count_of(len(sweep.value_mm), 'reading')}")
    if check.gauge is not None:
        due = (
            "" if check.gauge.calibration_due is None else f", calibration due {check.gauge.calibration_due}"
        )
        step = f"step {check.gauge.resolution_mm:g} mm"
        figures.append(f"gauge {check.gauge.id}, {unit.sentence(step)}{due}")
    return Panel(
        name=name,
        outcome=check.outcome,
        angle_deg=angle_deg,
        value_mm=value_mm,
        limit_mm=check.limit_mm,
        deciding=deciding,
        high_spot_deg=check.high_spot_deg,
        figures=figures,
        limit_is="example limit" if is_example else "limit",
        unit=unit,
        zero="0° of the encoder" if check.angle_zero == "encoder" else TIMING_MARK,
    )
