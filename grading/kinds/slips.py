"""A figure that may be in another unit than it is taken for."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from config.method import ThicknessRules
from config.runout import SurfaceRules
from contract.terms import TYPED
from contract.units import NM_PER_INCH, NM_PER_MM
from grading.evidence import Sweep
from grading.thickness.thickness import Places

MM_PER_INCH = NM_PER_INCH / NM_PER_MM


def unit_slip(true_tir_mm: float, rules: SurfaceRules) -> list[str]:
    """Whether a figure far below the limit would be near it in inches: it may be one, or a very good part."""
    as_inches_mm = MM_PER_INCH * true_tir_mm
    if not rules.limit_mm / rules.inch_factor < as_inches_mm < rules.limit_mm * rules.inch_factor:
        return []
    return [
        f"the true TIR is small for a damper: {true_tir_mm:.3f} inches are {as_inches_mm:.2f} mm; check that "
        "the gauge shows millimetres, and that millimetres are typed or configured"
    ]


def inches_typed(each: Sequence[Sweep], true_tir_mm: float, rules: SurfaceRules) -> str | None:
    """Why a small figure of what was read by eye may be one in inches: a dial of those moves in steps that no
    eye reads off one of millimetres. None where it may not, or would be within as well."""
    as_inches_mm = MM_PER_INCH * true_tir_mm
    if not rules.limit_mm < as_inches_mm <= rules.inch_most_mm:
        return None
    finer = [sweep for sweep in each if _by_eye(sweep) and _is_finer(sweep, rules.inch_share)]
    if not finer:
        return _finer_said([sweep for sweep in each if not _by_eye(sweep)], rules.inch_steps)
    if finer[-1].eye_mm is not None:
        return (
            f"the readings are finer than the {finer[-1].eye_mm:g} mm that an eye reads off a plain dial, as "
            f"if inches were taken for millimetres ({as_inches_mm:.2f} mm): where they are inches, multiply "
            "them by 25.4, or, where the gauge shows such steps in millimetres, give --resolution-mm"
        )
    return (
        f"the readings are typed finer than the {finer[-1].gauge.resolution_mm:g} mm that are stated of what "
        f"is read by eye, as if inches were taken for millimetres ({as_inches_mm:.2f} mm): type them in "
        "millimetres, or state the dial's resolution"
    )


def _by_eye(sweep: Sweep) -> bool:
    return sweep.gauge.id == TYPED or sweep.eye_mm is not None


def _finer_said(each: Sequence[Sweep], share: float) -> str | None:
    """The same of a gauge that is read here: one in inches that is configured in millimetres shows finer
    steps than are stated of it, as a rule."""
    for sweep in each:
        nm = np.rint(sweep.value_mm * NM_PER_MM).astype(np.int64)
        step_mm = int(np.gcd.reduce(nm - nm[0])) / NM_PER_MM
        if step_mm < share * sweep.gauge.resolution_mm:
            return (
                f"the readings go by steps of {step_mm:g} mm, and {sweep.gauge.id} is stated to show "
                f"{sweep.gauge.resolution_mm:g} mm: it may show inches, or be another gauge; check its unit, "
                "profile and resolution, and take the sweep again"
            )
    return None


def _is_finer(sweep: Sweep, share: float) -> bool:
    """Whether this share of the readings and more lies between the half steps of its dial."""
    half_nm = round((sweep.eye_mm or sweep.gauge.resolution_mm) * NM_PER_MM / 2)
    from_first_nm = np.rint((sweep.value_mm - sweep.value_mm[0]) * NM_PER_MM).astype(np.int64)
    return half_nm > 0 and float(np.mean(from_first_nm % half_nm != 0)) >= share


def limit_nearer(radius_mm: float, rules: SurfaceRules) -> SurfaceRules:
    """The rules of a face that was read at this radius: nearer to the axis than the method's radius a tilted
    face moves a gauge by so much less (textbook geometry), and may by no more. 0: not known."""
    if rules.radius_mm is None or not 0.0 < radius_mm < rules.radius_mm:
        return rules
    return rules.model_copy(update={"limit_mm": rules.limit_mm * radius_mm / rules.radius_mm})


def near_said(radius_mm: float, rules: SurfaceRules) -> str:
    """What such a reading asks for."""
    return (
        f"read at {radius_mm:g} mm from the axis, and a tilt that may be over at the method's "
        f"{rules.radius_mm:g} mm moves it too little there; read the face at that radius (for a "
        "smaller damper the method states its own)"
    )


def thin_slip(places: Places, rules: ThicknessRules) -> list[str]:
    """Why a casing is too thin to be one: below its rim, where the method states that, or such as only inches
    make thick enough. Inches taken for millimetres shrink its spread with it. A dial that was set to nought
    on the casing reads no thickness and is none of these."""
    read_mm = [nm / NM_PER_MM for values in places.kept.values() for nm in values]
    low, high = min(read_mm), max(read_mm)
    if rules.bulge is not None and high < rules.bulge.rim_thickness_mm - rules.absurd_mm:
        return [
            f"no place is thicker than {high:.3f} mm, more than {rules.absurd_mm:g} mm below the rim's "
            f"{rules.bulge.rim_thickness_mm:g} mm: check unit, decimal point and the micrometer's zero, then "
            "read all places again"
        ]
    if high < rules.thin_mm < low * MM_PER_INCH:
        return [
            f"no place is thicker than {high:.3f} mm, as if inches were taken for millimetres: check the "
            "unit, or set a dial to nought on the casing, then read all places again"
        ]
    return []
