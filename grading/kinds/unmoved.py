"""A face that reads as the rim did: one indicator serves both, and may not have been moved in between; of
two, both may stand on the face."""

from __future__ import annotations

import cmath
from collections.abc import Mapping
from math import hypot, radians

from config.runout import FaceRules
from contract.result import SurfaceCheck


def unmoved(rim: SurfaceCheck, face: SurfaceCheck, rules: FaceRules, *, by_marks: bool = False) -> str | None:
    """What to do where both go up and down alike all around, as no two surfaces do; None where they differ by
    more than sweeps of one surface may (`same_mm`, `unmoved_share`). Of two indicators one may stand half a
    turn from the other. by_marks: whether angles are known at marks only."""
    if rim.gauge is None or face.gauge is None:
        return None
    is_one = rim.gauge.id == face.gauge.id
    one, other = _waves(rim), _waves(face)
    size_mm = hypot(*map(abs, one.values()))
    may_mm = rules.same_mm + (rules.unmoved_share * size_mm if by_marks or not is_one else 0.0)
    apart_mm = min(_apart_mm(one, other, sign) for sign in ((1,) if is_one else (1, -1)))
    if apart_mm > may_mm or size_mm < rules.unmoved_times * rules.same_mm:
        return None
    if is_one:
        return (
            f"the face reads as the rim did, to {apart_mm:.3f} mm all around: set the indicator on the face, "
            "and take the sweep again; where it stood there, at another radius"
        )
    return (
        f"rim and face read alike, to {apart_mm:.3f} mm all around: see that one indicator stands on the rim "
        "and the other on the face, then take both again; where they did, the face at another radius"
    )


def _apart_mm(one: Mapping[int, complex], other: Mapping[int, complex], sign: int) -> float:
    """By how much they differ; sign -1: half a turn apart, which turns odd waves round."""
    return hypot(*(abs(one.get(k, 0) - sign**k * other.get(k, 0)) for k in {**one, **other}))


def _waves(check: SurfaceCheck) -> dict[int, complex]:
    """Amplitude and crest of each order, mm."""
    return {
        part.order: cmath.rect(part.amplitude_mm, part.order * radians(part.phase_deg))
        for part in check.harmonics or ()
    }
