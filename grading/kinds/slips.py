"""A figure that may be in another unit than it is taken for."""

from __future__ import annotations

from config.runout import SurfaceRules


def unit_slip(true_tir_mm: float, rules: SurfaceRules) -> list[str]:
    """Whether a figure far below the limit would be near it in inches: it may be one, or a very good part."""
    as_inches_mm = 25.4 * true_tir_mm
    if not rules.limit_mm / rules.inch_factor < as_inches_mm < rules.limit_mm * rules.inch_factor:
        return []
    return [
        f"the true TIR is small for a damper: {true_tir_mm:.3f} inches are {as_inches_mm:.2f} mm; check that "
        "the gauge shows millimetres, and that millimetres are typed or configured"
    ]
