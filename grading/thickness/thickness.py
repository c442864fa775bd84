"""Thickness of the casing: spread as the workshop computes it, and what the true spread may be."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from config.method import ThicknessRules
from contract.gauge import GaugeFacts
from grading.evidence import F64, ThicknessReading
from grading.thickness.doubt import Place
from grading.thickness.scatter import scatter_draws
from grading.thickness.spread import DRAWS, Bounds, highest_bounds, spread_bounds

NM_PER_MM = 1_000_000
RANDOM_EACH = 4
"""Of so many draws one is taken for the random part alone."""


@dataclass(frozen=True, slots=True)
class Places:
    """The readings of one complete set, place by place.

    readings: every one, replicates in the order taken. missing: places not read. faults: why the set
    is invalid, one sentence each. set_aside: replicates that a majority outvoted, one sentence each; aside:
    the same by place, nm. kept: per place the readings that agree.
    """

    kept: dict[Place, tuple[int, ...]]
    missing: tuple[Place, ...]
    faults: tuple[str, ...]
    set_aside: tuple[str, ...]
    readings: int
    aside: dict[Place, tuple[int, ...]] = field(default_factory=dict)

    def value_nm(self, place: Place) -> int:
        """Mean of the readings that agree, whole nanometres (half to even)."""
        values = self.kept[place]
        return round(Fraction(sum(values), len(values)))

    def values_mm(self, rules: ThicknessRules) -> F64:
        """What each place reads, in the method's order, shape (n,)."""
        return np.array([self.value_nm(place) for place in rules.order], dtype=np.float64) / NM_PER_MM

    def counts(self, rules: ThicknessRules) -> F64:
        """From how many readings, shape (n,)."""
        return np.array([len(self.kept[place]) for place in rules.order], dtype=np.float64)

    @property
    def freedom(self) -> int:
        """Degrees of freedom that replicates give."""
        return sum(len(values) - 1 for values in self.kept.values() if values)


@dataclass(frozen=True, slots=True)
class ThicknessEstimate:
    """Figures of one valid set, mm.

    spread_nm: highest minus lowest place, exact. bounds: of the true spread. repeatability_mm: the
    likeliest standard deviation of one reading without the display (median).
    u_random_mm shrinks when the set is repeated, u_systematic_mm does not: where the resolution is
    coarser than the repeatability, repeats show the same step again.
    wedge_mm: highest minus lowest of the first harmonic around the stations, its thick side at
    wedge_deg; None where the stations cannot tell one. taper_mm: outer minus inner, the largest by size.
    bulge: highest place less the maker's rim thickness.
    """

    spread_nm: int
    true_spread_mm: float
    u_expanded_mm: float
    bounds: Bounds
    u_random_mm: float
    u_systematic_mm: float
    budget: tuple[tuple[str, float], ...]
    repeatability_mm: float
    taper_mm: float
    wedge_mm: float | None
    wedge_deg: float | None
    bulge: Bounds | None

    def p_over(self, limit_mm: float) -> float:
        """Probability that the true spread is above the limit (JCGM 106:2012, 7)."""
        return self.bounds.p_over(limit_mm)


def name_of(place: Place) -> str:
    """`station 90 outer`."""
    return f"station {place[0]:g} {place[1]}"


def sort_places(readings: Sequence[ThicknessReading], rules: ThicknessRules) -> Places:
    """The readings by place, with what is missing, what contradicts itself and what is set aside.

    Two readings of a place may differ by `max_replicate_range_mm`. Where they differ by more, those
    that agree count if they are more than half of that place's readings; otherwise the place is asked
    for again. Nothing is averaged across a disagreement.
    """
    allowed_nm = round(rules.max_replicate_range_mm * NM_PER_MM)
    taken: dict[Place, list[int]] = {place: [] for place in rules.order}
    faults: list[str] = []
    for reading in readings:
        place: Place = (reading.station_deg, reading.radius)
        if place in taken:
            taken[place].append(reading.value_nm)
        else:
            known = ", ".join(f"{station:g}" for station in rules.stations_deg)
            faults.append(f"{name_of(place)} is no place of the method, whose stations are {known}")
    kept: dict[Place, tuple[int, ...]] = {}
    set_aside: list[str] = []
    aside: dict[Place, tuple[int, ...]] = {}
    for place, values in taken.items():
        agreed = _agreeing(values, allowed_nm)
        if agreed is None:
            apart = (max(values) - min(values)) / NM_PER_MM
            faults.append(
                f"{name_of(place)}: its readings differ by {apart:.3f} mm, at most "
                f"{rules.max_replicate_range_mm:g} mm are allowed; clean the place and read it again"
            )
            continue
        if len(agreed) < len(values):
            aside[place] = tuple((Counter(values) - Counter(agreed)).elements())
            set_aside.append(
                f"{name_of(place)}: {len(values) - len(agreed)} of {len(values)} readings set aside, "
                f"further than {rules.max_replicate_range_mm:g} mm from the others"
            )
        if values:
            kept[place] = agreed
    missing = tuple(place for place, values in taken.items() if not values)
    return Places(kept, missing, tuple(dict.fromkeys(faults)), tuple(set_aside), len(readings), aside)


def _agreeing(values: Sequence[int], allowed_nm: int) -> tuple[int, ...] | None:
    """All that lie within the allowed range of each other, if they are a majority; else None."""
    ordered = sorted(values)
    best: list[int] = []
    for i, low in enumerate(ordered):
        run = [value for value in ordered[i:] if value - low <= allowed_nm]
        best = max(best, run, key=len)
    if 2 * len(best) <= len(values) and values:
        return None
    # More than one majority (0, 15, 30 with 20 allowed) is none: which one is right cannot be told.
    rivals = {tuple(v for v in ordered[i:] if v - low <= allowed_nm) for i, low in enumerate(ordered)}
    if sum(len(rival) == len(best) for rival in rivals) > 1:
        return None
    return tuple(best)


def estimate_thickness(
    places: Places,
    gauge: GaugeFacts,
    rules: ThicknessRules,
    *,
    seed: int,
    coverage: float = 0.95,
    without: Collection[Place] = (),
) -> ThicknessEstimate:
    """All figures of a set with no missing place and no fault. without: places left out of the spread.

    A reading's random part is its repeatability (what the method assumes, lifts at the bay and replicates:
    `grading.thickness.scatter`) and its display step (JCGM 100:2008, F.2.2.1). The gauge's permissible
    error is that of one difference between two readings, rectangular (JCGM 100:2008, 4.3.7). Figures by
    Monte Carlo (JCGM 101:2008), seeded.
    Raises ValueError where places are missing or faulty.
    """
    if places.missing or places.faults:
        raise ValueError("a set with missing or faulty places has no spread")
    rng = np.random.default_rng(seed)
    exact = [places.value_nm(place) for place in rules.order]
    value_mm, counts = places.values_mm(rules), places.counts(rules)
    step = gauge.resolution_mm
    sd = scatter_draws(
        [[value / NM_PER_MM for value in places.kept[place]] for place in rules.order],
        gauge,
        rules.repeatability_least_mm,
        rules.repeatability_most_mm,
        DRAWS,
        rules.max_replicate_range_mm,
    )
    used = np.array([place not in without for place in rules.order])
    bounds = spread_bounds(value_mm[used], sd, counts[used], step, gauge.mpe_mm, rng)
    is_known = places.freedom > 0 or gauge.repeatability_mm is not None
    bounds = bounds if is_known else bounds.on_average()
    u_random = spread_bounds(value_mm[used], sd[::RANDOM_EACH], counts[used], step, 0.0, rng).spread_mm()
    y = max(0.0, bounds.middle_mm())
    # A reading that repeats far better than the display's step shows the same step again.
    repeats_help = float(np.median(sd)) > step / math.sqrt(12.0)
    budget = [(_random_source(repeats_help, places, gauge), u_random)]
    if gauge.mpe_mm:
        budget.append(("gauge: permissible error", gauge.mpe_mm / math.sqrt(3.0)))
    bulge = None
    if rules.bulge is not None:
        over_rim = value_mm - rules.bulge.rim_thickness_mm
        bulge = highest_bounds(over_rim, sd, counts, step, gauge.mpe_mm, rng)
        bulge = bulge if is_known else bulge.on_average()
    outer, inner = value_mm[0::2], value_mm[1::2]
    wedge_mm, wedge_deg = _wedge(np.array(rules.stations_deg), (outer + inner) / 2.0)
    taper = outer - inner
    return ThicknessEstimate(
        spread_nm=max(exact) - min(exact),
        true_spread_mm=y,
        u_expanded_mm=bounds.expanded_mm(y, coverage),
        bounds=bounds,
        u_random_mm=u_random if repeats_help else 0.0,
        u_systematic_mm=math.hypot(0.0 if repeats_help else u_random, gauge.mpe_mm / math.sqrt(3.0)),
        budget=tuple(budget),
        repeatability_mm=float(np.median(sd)),
        taper_mm=float(taper[np.argmax(np.abs(taper))]),
        wedge_mm=wedge_mm,
        wedge_deg=wedge_deg,
        bulge=bulge,
    )


def _random_source(repeats_help: bool, places: Places, gauge: GaugeFacts) -> str:
    """What the random part comes from, and how well that is known."""
    source = "repeatability of a reading" if repeats_help else "resolution of the gauge"
    if gauge.repeatability_mm is not None and gauge.repeatability_dof is None:
        return source
    freedom = places.freedom + (gauge.repeatability_dof or 0)
    if freedom == 0:
        return source + " (assumed by the method, no place was read twice)"
    shown = [
        name
        for name, is_there in (("lifts at the bay", gauge.repeatability_dof), ("replicates", places.freedom))
        if is_there
    ]
    return f"{source} ({' and '.join(shown)}, {freedom:g} degree{'s' if freedom != 1 else ''} of freedom)"


def _wedge(station_deg: F64, value_mm: F64) -> tuple[float | None, float | None]:
    """First harmonic around the stations: (highest minus lowest mm, crank angle of its thick side).

    By least squares, as for run-out; evenly spread stations make it the discrete Fourier sum. Needs
    three stations and more than two directions.
    """
    radians = np.deg2rad(station_deg)
    x = np.column_stack([np.ones(radians.size), np.cos(radians), np.sin(radians)])
    if np.linalg.matrix_rank(x) < 3:
        return None, None
    _, a, b = np.linalg.lstsq(x, value_mm, rcond=None)[0]
    size = 2.0 * float(np.hypot(a, b))
    if size < 1e-9:  # a millionth of a micrometre: nothing has no direction
        return 0.0, None
    return size, float(np.rad2deg(np.arctan2(b, a))) % 360.0
