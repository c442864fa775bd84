"""What `live` says of what runs at the bay."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from acquire.runs.abreast import Abreast
from acquire.runs.lifts import LIFTS, RunningLifts, tenth_um
from acquire.runs.sweep import Figures, RunningSweep
from contract.kinds import takes
from contract.live import BesidePart, Live, PlacePart
from contract.units import NM_PER_MM, UDEG_PER_DEG
from contract.words import count_of


def live_of(
    inspection: str,
    runs: Abreast,
    tested: RunningLifts | None,
    limit_mm: Callable[[str], float | None],
    warnings: list[str],
) -> Live:
    """The figures of what runs; where nothing does, what the repeatability test that ended last came to."""
    first = runs.first
    if first is None:
        return _live_idle(inspection, tested, warnings)
    if isinstance(first, RunningLifts):
        return _live_lifts(inspection, first, warnings)
    return _live_abreast(inspection, runs, limit_mm, warnings)


def _live_abreast(
    inspection: str, runs: Abreast, limit_mm: Callable[[str], float | None], warnings: list[str]
) -> Live:
    """The figures of the sweep that was begun first, those of the others beside it, and what all warn of."""
    sweeps = [(run, run.figures()) for run in runs if isinstance(run, RunningSweep)]
    for run, now in sweeps:
        # Where one reads, it is clear of which.
        of_whom = f"{run.gauge}: " if len(sweeps) > 1 else ""
        warnings += [f"{gauge} is away" for gauge in sorted(run.intake.away)]
        warnings += [f"{of_whom}{said}" for said in _warnings(run, now)]
    (first, now), *others = sweeps
    beside = tuple(_beside(run, now, limit_mm(run.begun.check)) for run, now in others)
    warnings += [_above_said(one) for one in beside if _is_above(one)]
    left_udeg = runs.to_bar_udeg
    return _live_sweep(
        inspection,
        first,
        now,
        limit_mm(first.begun.check),
        to_bar_deg=None if left_udeg is None else left_udeg / UDEG_PER_DEG,
        beside=beside,
        warnings=tuple(dict.fromkeys(warnings)),
    )


def _is_above(beside: BesidePart) -> bool:
    return beside.limit_mm is not None and (beside.max_deviation_mm or 0.0) > beside.limit_mm


def _above_said(beside: BesidePart) -> str:
    """For a display that shows one sweep only."""
    return (
        f"{beside.check} with {beside.gauge}: run-out so far {beside.max_deviation_mm:.3f} mm, above the "
        f"limit of {beside.limit_mm:g} mm"
    )


def _warnings(run: RunningSweep, now: Figures) -> list[str]:
    found = []
    if run.encoder is not None and now.angle_udeg is None and run.encoder not in run.intake.away:
        found.append(f"no angle from {run.encoder} yet")
    if run.index.off_udeg:
        off = abs(run.index.off_udeg) / UDEG_PER_DEG
        found.append(f"the encoder is {off:.0f} degrees off at its index; see to its coupling and its cable")
    if now.lost:
        found.append(f"{count_of(now.lost, 'reading')} lost")
    near_end = run.travel_warning()
    return found if near_end is None else [*found, near_end]


def _beside(run: RunningSweep, now: Figures, limit_mm: float | None) -> BesidePart:
    low, high = now.min_nm, now.max_nm
    return BesidePart(
        check=run.begun.check,
        gauge=run.gauge,
        opposite=run.begun.across != "",
        turn=now.turn,
        value_mm=mm_of(now.value_nm),
        min_mm=mm_of(low),
        max_mm=mm_of(high),
        max_deviation_mm=None if low is None or high is None else (high - low) / NM_PER_MM,
        covered_deg=now.covered_udeg / UDEG_PER_DEG,
        limit_mm=limit_mm,
        closure_mm=None if now.closure_nm is None else round(now.closure_nm) / NM_PER_MM,
        readings=now.readings,
        lost=now.lost,
    )


def _live_sweep(
    inspection: str, run: RunningSweep, now: Figures, limit_mm: float | None, **beside: Any
) -> Live:
    """The figures of a sweep that runs. beside: what is said of all together, by its names in `Live`."""
    check, place = run.begun.check, now.next_place
    turning = takes(check) == "turn"
    low, high = now.min_nm, now.max_nm
    return Live(
        inspection=inspection,
        check=check,
        gauge=run.gauge,
        angle_deg=None if now.angle_udeg is None else now.angle_udeg / UDEG_PER_DEG % 360.0,
        angle_u_deg=None if now.angle_u_deg is None else round(now.angle_u_deg, 4),
        turn=now.turn,
        value_mm=mm_of(now.value_nm),
        min_mm=mm_of(low),
        max_mm=mm_of(high),
        max_deviation_mm=None if low is None or high is None else (high - low) / NM_PER_MM,
        covered_deg=now.covered_udeg / UDEG_PER_DEG if turning else None,
        angle_source=run.begun.angle.source if turning else None,
        angle_zero=run.angle_zero,
        largest_gap_deg=now.largest_gap_deg if turning else None,
        limit_mm=limit_mm,
        closure_mm=None if now.closure_nm is None else round(now.closure_nm) / NM_PER_MM,
        readings=now.readings,
        lost=now.lost,
        back_deg=now.back_udeg / UDEG_PER_DEG if turning else None,
        back_times=now.back_times if turning else None,
        next_station_deg=None if place is None else place.station_udeg / UDEG_PER_DEG,
        next_radius=None if place is None else place.radius,
        places=tuple(
            PlacePart(
                station_deg=at.station_udeg / UDEG_PER_DEG,
                radius=at.radius,
                value_mm=mean_nm / NM_PER_MM,
                readings=number,
            )
            for at, mean_nm, number in now.places
            if at.radius != "zero"
        ),
        **beside,
    )


def _live_idle(inspection: str, tested: RunningLifts | None, warnings: list[str]) -> Live:
    """Nothing runs: what the repeatability test that ended last came to."""
    if tested is None:
        return Live(inspection=inspection, warnings=tuple(warnings))
    found, fault = tested.verdict()
    if fault is not None:
        warnings.append(f"the repeatability test of {tested.gauge} does not count: {fault}")
    return Live(
        inspection=inspection,
        repeatability_mm=None if found is None else tenth_um(found.sd_mm),
        warnings=tuple(warnings),
    )


def _live_lifts(inspection: str, run: RunningLifts, warnings: list[str]) -> Live:
    """The figures of a repeatability test that runs."""
    now = run.figures()
    said = [f"{gauge} is away" for gauge in sorted(run.intake.away)]
    if now.lost:
        said.append(f"{count_of(now.lost, 'reading')} lost")
    if now.fault is not None:
        said.append(f"this test will not count: {now.fault}")
    low, high = min(now.values_nm, default=None), max(now.values_nm, default=None)
    return Live(
        inspection=inspection,
        check="lifts",
        gauge=run.gauge,
        value_mm=mm_of(now.value_nm),
        min_mm=mm_of(low),
        max_mm=mm_of(high),
        max_deviation_mm=None if low is None or high is None else (high - low) / NM_PER_MM,
        readings=run.readings,
        lost=now.lost,
        lifts=len(now.values_nm),
        lifts_wanted=LIFTS,
        repeatability_mm=None if now.repeatability is None else tenth_um(now.repeatability.sd_mm),
        next_step=now.next_step,
        warnings=(*warnings, *said),
    )


def mm_of(value_nm: int | None) -> float | None:
    """Nanometres in mm, where there are any."""
    return None if value_nm is None else value_nm / NM_PER_MM
