"""Results of a damper's services, as they are kept on record."""

from __future__ import annotations

from typing import Any

from contract.gauge import GaugeFacts
from contract.header import DamperPart, EnginePart
from contract.result import Checks, MethodPart, NextDue, Result, SurfaceCheck, ThicknessCheck
from contract.terms import MeasuredOutcome

GAUGE = GaugeFacts(id="indicator-1", resolution_mm=0.001, mpe_mm=0.004)


def rim(figure_mm: float | None, outcome: MeasuredOutcome = "within") -> SurfaceCheck:
    """A rim that read so; None: no figure."""
    return SurfaceCheck(
        outcome=outcome,
        reason="as read",
        limit_mm=0.28,
        true_tir_mm=figure_mm,
        u_expanded_mm=None if figure_mm is None else 0.008,
        coverage=0.95,
        gauge=GAUGE,
    )


def thickness(figure_mm: float) -> ThicknessCheck:
    """A casing whose spread read so."""
    return ThicknessCheck(
        outcome="within",
        reason="as read",
        limit_mm=0.25,
        true_spread_mm=figure_mm,
        u_expanded_mm=0.02,
        coverage=0.95,
        gauge=GAUGE,
    )


def service(
    inspection: str,
    day: str,
    *,
    hours_h: float | None = None,
    distance_km: float | None = None,
    engine: str = "GQ-E-2207",
    damper: str = "GQ-D-0815",
    due: bool = True,
    **changes: Any,
) -> Result:
    """One inspection. changes: further keys of the result, checks among them (`rim=…`)."""
    checks = {name: changes.pop(name) for name in ("rim", "face", "thickness") if name in changes}
    next_due = NextDue(
        hours_h=None if hours_h is None else hours_h + 3_000,
        distance_km=None if distance_km is None else distance_km + 200_000,
        date=f"{int(day[:4]) + 1}{day[4:]}",
    )
    told: dict[str, Any] = {
        "revision": 3,
        "state": "signed",
        "verdict": "keep" if due else "replace",
        "next_due": next_due if due else None,
        **changes,
    }
    return Result(
        inspection=inspection,
        site="greywacke",
        bay="bay-2",
        scope="both",
        engine=EnginePart(serial=engine, distance_km=distance_km, hours_h=hours_h),
        damper=DamperPart(serial=damper, construction="rolled"),
        opened=f"{day}T06:00:00.000Z",
        method=MethodPart(id="example", version="1", sha256="00"),
        checks=Checks(**checks),
        reasons=("as read",),
        software="ringtrue 0",
        readings_sha256="00",
        **told,
    )
