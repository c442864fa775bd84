"""A face that reads as the rim did: one indicator serves both, and may not have been moved in between."""

from __future__ import annotations

import cmath
from math import hypot, radians

from config.runout import FaceRules
from contract.result import SurfaceCheck


def unmoved(rim: SurfaceCheck, face: SurfaceCheck, rules: FaceRules) -> str | None:
    """What to do where both, read by one gauge, go up and down alike all around, as no two surfaces do; None
    where they differ by more than sweeps of one surface may (`same_mm`)."""
    if rim.gauge is None or face.gauge is None or rim.gauge.id != face.gauge.id:
        return None
    one, other = _waves(rim), _waves(face)
    apart_mm = hypot(*(abs(one.get(order, 0) - other.get(order, 0)) for order in one | other))
    if apart_mm > rules.same_mm or hypot(*map(abs, one.values())) < rules.unmoved_times * rules.same_mm:
        return None
    return (
        f"the face reads as the rim did, to {apart_mm:.3f} mm all around: set the indicator on the face, and "
        "take the sweep again; where it stood there, at another radius"
    )


def _waves(check: SurfaceCheck) -> dict[int, complex]:
    """Amplitude and crest of each order, mm."""
    return {
        part.order: cmath.rect(part.amplitude_mm, part.order * radians(part.phase_deg))
        for part in check.harmonics or ()
    }
