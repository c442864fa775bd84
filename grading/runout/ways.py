"""One way to read what sweeps have read: a surface, and what moved the readings beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from config.runout import SurfaceRules, SweepRules
from config.signs import Signs
from grading.evidence import F64, Sweep
from grading.runout.held import Held, hold_against
from grading.runout.leftover import Leftover, examine
from grading.runout.rough import LOW_ORDERS, LOW_WIDER, Rough, rough_surface
from grading.runout.short import without_short
from grading.runout.trace import trace
from grading.signs.faults import still_said
from grading.signs.freed import came_free
from grading.signs.prepared import Prepared
from grading.signs.rested import may_have_rested
from grading.signs.scatter import scatter_mm
from grading.signs.still import Still, core_of
from grading.surface.coverage import Coverage
from grading.surface.draws import PLACES, Surfaces, draw
from grading.surface.explain import SMEARS_FROM_DEG, Posterior, explain
from grading.surface.observations import Wander, progress

DRAWS = 1000
# Probability of a dent from which it is held against a rough surface without one.
FEATURE_FROM = 0.9


@dataclass(frozen=True, slots=True)
class Way:
    """One way to read what happened. tir_mm: shape (m,), equally likely true TIRs; hidden: shape (m,),
    whether a feature that no reading speaks for makes it; mean_mm: shape (720,), the mean surface;
    short_mm: highest less lowest of waves too short for the fit; 0 without."""

    posterior: Posterior
    surfaces: Surfaces
    rest: Leftover
    rough: Rough | None
    tir_mm: F64
    hidden: NDArray[np.bool_]
    mean_mm: F64
    short_mm: float = 0.0


def wander_of(seen: Coverage, rules: SweepRules) -> Wander:
    """How the level may have moved, by what the second pass over the start says of it."""
    closure = abs(seen.closure_mm or 0.0)
    if seen.closure_mm is None:
        return Wander(rules.drift_mm, 0.0, np.zeros(0))
    u = float(np.hypot(seen.closure_u_mm, seen.rounding_u_mm))
    if closure > max(rules.signs.wander_mm, rules.signs.wander_u * u):
        return Wander(max(rules.drift_mm, closure), closure, np.zeros(0))
    # What it is beyond its own uncertainty.
    sure = float(np.sqrt(max(closure**2 - u**2, 0.0)))
    return Wander(max(rules.drift_mm, sure), 0.0, np.zeros(0))


def way_of(
    sweeps: Sequence[Sweep],
    wanders: Sequence[Wander],
    running: bool,
    rng: np.random.Generator,
    rules: SweepRules,
    *,
    untold: bool = False,
) -> Way:
    """The surface with harmonics and one feature; where that leaves over what is no noise, a rough one."""
    posterior = explain(sweeps, wanders, spread=rules.pace_spread if running else 0.0)
    surfaces = draw(posterior.weighed, rng, DRAWS)
    step = sweeps[0].gauge.resolution_mm
    left = _leftovers(sweeps, wanders, surfaces)
    if not running and not untold:
        u_deg = _untold_deg(sweeps, np.concatenate(left), surfaces, rules.signs)
        if u_deg > rules.max_untold_deg:
            poorer = [replace(s, angle_u_deg=np.hypot(s.angle_u_deg, u_deg)) for s in sweeps]
            return way_of(poorer, wanders, running, rng, rules, untold=True)
    seen = [
        _seen(sweep, posterior.noise_mm)
        for sweep, wander in zip(sweeps, wanders, strict=True)
        if not wander.steps.size
    ]
    scatter = float(np.std(_as_read(sweeps, left, surfaces, posterior.noise_mm, running)))
    short = without_short(sweeps, left, posterior.noise_mm, surfaces, rng, rules, running=running)
    sweeps, noise = short.sweeps, short.noise_mm
    rest = _as_read(sweeps, short.left, surfaces, noise, running)
    angle = np.concatenate([sweep.angle_deg for sweep in sweeps])
    found = examine(angle, rest, step, noise, rules.signs.misfit_min)
    if short.height_mm > 0:
        found = replace(found, scatter_mm=scatter)
    structured = found.is_structured(rules.misfit_from, rules.signs.misfit_back)
    if not structured and noise <= rules.max_noise_mm:
        tir, hidden = _no_less(surfaces.tir_mm + short.higher_mm, surfaces.hidden, seen, rules.signs, rng)
        return Way(posterior, surfaces, found, None, tir, hidden, surfaces.mean_mm, short.height_mm)
    single = float(np.hypot(min(noise, rules.max_noise_mm), step / 12**0.5))
    prior = posterior.weighed.best.prior[-2 * posterior.weighed.orders :: 2]
    low = LOW_WIDER * np.maximum(prior[: LOW_ORDERS - 1], 1e-5)
    rough = rough_surface(trace(sweeps, wanders, single, low), rng, DRAWS)
    tir = rough.tir_mm
    if step > 2 * noise:
        # Readings about a crest share one step, whose rounding no number of them averages out.
        tir = np.abs(tir + rng.normal(0.0, 0.7 * step / 6**0.5, tir.size))
    blurred = not running and max(float(sweep.angle_u_deg.max()) for sweep in sweeps) > SMEARS_FROM_DEG
    dented = posterior.weighed.feature_probability > FEATURE_FROM and posterior.noise_mm <= rules.max_noise_mm
    if blurred or dented:
        # A rough surface is as flat as its angles are blurred, and as its length is long beside a narrow
        # dent; harmonics and their dent, where they leave little over, are not.
        tir = np.concatenate([np.resize(tir, DRAWS), surfaces.tir_mm])
    tir = tir + np.resize(short.higher_mm, tir.size)
    around = np.append(rough.mean_mm, rough.mean_mm[0])
    mean = np.interp(np.arange(PLACES), np.linspace(0, PLACES, around.size), around)
    tir, hidden = _no_less(tir, np.zeros(tir.size, dtype=bool), seen, rules.signs, rng)
    return Way(posterior, surfaces, found, rough, tir, hidden, mean, short.height_mm)


def _seen(sweep: Sweep, noise_mm: float) -> tuple[float, float]:
    """Highest less lowest that three readings in a row speak for (the middle one of them), and the scatter
    of such a middle, in mm (0.67 of a single reading's: median of three, normal)."""
    value = sweep.value_mm
    rows = np.sort(np.stack([value[:-2], value[1:-1], value[2:]]), axis=0)
    single = max(float(np.hypot(noise_mm, sweep.gauge.resolution_mm / 12**0.5)), scatter_mm(sweep))
    return float(np.ptp(rows[1])), 0.67 * single


def _no_less(
    tir: F64,
    hidden: NDArray[np.bool_],
    seen: Sequence[tuple[float, float]],
    signs: Signs,
    rng: np.random.Generator,
) -> tuple[F64, NDArray[np.bool_]]:
    """The draws, and as many of what was seen beside them where that is more than all of them allow.

    A narrow dent that a few readings have met may weigh little among thousands; it counts all the same.
    The luck of many readings is taken off what was seen, and much more before it is taken up at all.
    """
    for most, scatter in seen:
        if most - signs.seen_clear * scatter > float(np.quantile(tir, 0.975)):
            lucky = rng.normal(most - signs.seen_luck * scatter, signs.seen_luck * scatter / 2, tir.size)
            tir = np.concatenate([tir, np.maximum(lucky, 0.0)])
            hidden = np.concatenate([hidden, np.zeros(lucky.size, dtype=bool)])
    return tir, hidden


def _untold_deg(sweeps: Sequence[Sweep], rest_mm: F64, surfaces: Surfaces, signs: Signs) -> float:
    """How much worse the angles are known than stated, in degrees (standard): leftovers that are large where
    the surface is steep, and small at its crests, are wrong angles. 0 where nothing speaks for it.

    Their squares by the squared slope, in one line (textbook regression); the slope of that line is the
    angles' variance, and counts where it stands out of its own uncertainty.
    """
    angle = np.concatenate([sweep.angle_deg for sweep in sweeps])
    if angle.size < signs.untold_min:
        return 0.0
    rate = np.gradient(surfaces.mean_mm, 360.0 / PLACES)
    at = np.mod(np.round(np.mod(angle, 360.0) / 360.0 * PLACES).astype(np.int64), PLACES)
    x, y = rate[at] ** 2, rest_mm**2
    off = x - x.mean()
    spread = float(off @ off)
    if spread <= 0:
        return 0.0
    slope = float(off @ y) / spread
    rest = y - y.mean() - slope * off
    u = float(np.sqrt(np.sum(off**2 * rest**2))) / spread
    told = float(np.mean(np.concatenate([sweep.angle_u_deg for sweep in sweeps]) ** 2))
    return float(np.sqrt(max(slope - told, 0.0))) if slope > signs.untold_u * u else 0.0


def _as_read(
    sweeps: Sequence[Sweep], left: Sequence[F64], surfaces: Surfaces, noise_mm: float, running: bool
) -> F64:
    """What is left over of all, less what wrong angles make of it where they are stated, shape (n,)."""
    rest = np.concatenate(left)
    return rest if running else rest / np.concatenate([_angle_share(s, surfaces, noise_mm) for s in sweeps])


def _angle_share(sweep: Sweep, surfaces: Surfaces, noise_mm: float) -> F64:
    """How many times the noise each reading may scatter, its angle's own error let in, shape (n,)."""
    rate = np.gradient(surfaces.mean_mm, 360.0 / PLACES)
    at = np.mod(np.round(np.mod(sweep.angle_deg, 360.0) / 360.0 * PLACES).astype(np.int64), PLACES)
    return np.asarray(np.hypot(1.0, rate[at] * sweep.angle_u_deg / max(noise_mm, 1e-6)))


def _leftovers(sweeps: Sequence[Sweep], wanders: Sequence[Wander], surfaces: Surfaces) -> list[F64]:
    """Readings minus the mean surface, level and drift taken out, per sweep, in mm."""
    places = np.arange(PLACES + 1) * (360.0 / PLACES)
    closed = np.append(surfaces.mean_mm, surfaces.mean_mm[0])
    found, at = [], 0
    for sweep, wander in zip(sweeps, wanders, strict=True):
        nuisance = wander.columns(progress(sweep))
        moved = nuisance @ surfaces.nuisance_mm[at : at + nuisance.shape[1]]
        at += nuisance.shape[1]
        rest = sweep.value_mm - np.interp(np.mod(sweep.angle_deg, 360.0), places, closed) - moved
        found.append(np.asarray(rest - rest.mean()))
    return found


@dataclass(frozen=True, slots=True)
class HeldArc:
    """Arcs that stand still where the rest of the turn says otherwise. fault: what is certain of one. doubt:
    one that may have been held, with the true TIRs that the rest alone leaves possible, shape (m,). maybe:
    one that is likely the surface's own, but might hide what is over the limit."""

    fault: str | None = None
    doubt: tuple[Still, F64] | None = None
    maybe: Still | None = None


def held_arc(
    each: Sequence[Prepared],
    level: Sequence[Wander],
    running: bool,
    rng: np.random.Generator,
    surface: SurfaceRules,
) -> HeldArc:
    """Only a single sweep is asked, and only where what the rest leaves possible reaches the limit, as no arc
    can hide an over else, or where a jump tells that its plunger came free. Without a jump it is certain of
    an arc only where it is so of that part of it too that surely stood: one that moves may be a plateau of
    the surface's own, and stays in doubt. So does one from mark to mark that may be a crank that stood."""
    if len(each) > 1:
        return HeldArc()
    doubt, maybe, rules = None, None, surface.sweep
    spread = rules.pace_spread if running else 0.0
    certain = rules.min_still_share * (rules.signs.held_marks_share if running else 1.0)
    one = each[0]

    def against(still: Still) -> Held | None:
        return hold_against(one, still, level[0], spread, rng, DRAWS, rules.signs)

    for still in one.still:
        freed = came_free(one.clean, still, one.jumps, rules.signs)
        found = against(freed or still)
        if freed is not None:
            # What a plunger did not read is a gap, and a gap may be only so wide.
            if found is None or freed.to_deg - freed.from_deg > rules.max_gap_deg:
                return HeldArc(fault=still_said(freed))
            doubt = doubt or (freed, found.tir_mm)
        reach = 0.0 if found is None else float(np.mean(found.tir_mm > surface.limit_mm))
        if found is None or reach < rules.signs.reach_share:
            continue
        if still.passes < rules.signs.still_look_share:
            if found.share < certain:
                stood = core_of(one.clean, still, rules.signs)
                core = None if stood is None else against(stood)
                hides_none = found.hides_none >= certain or core is None or core.hides_none >= certain
                rested = running and may_have_rested(one.clean, still, rules, hides_none=hides_none)
                if core is not None and core.share < certain and not rested:
                    return HeldArc(fault=still_said(still))
                doubt = doubt or (
                    replace(still, rested=rested),
                    found.tir_mm if core is None else core.tir_mm,
                )
            elif found.share < rules.signs.still_doubt * rules.min_still_share:
                doubt = doubt or (still, found.tir_mm)
        if found.share < rules.signs.still_maybe_share and reach >= rules.signs.still_maybe_reach:
            maybe = maybe or still
    return HeldArc(doubt=doubt, maybe=maybe)
