"""The figures of a surface from one sweep, or from several pooled: its drawn TIRs, harmonics, feature, and
the random lines of its budget."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from config.runout import SurfaceRules, SweepRules
from grading.coverage import Coverage
from grading.draws import PLACES, Surfaces, draw
from grading.evidence import F64, Sweep
from grading.harmonics import Harmonic, columns, to_harmonics
from grading.held import hold_against
from grading.leftover import Leftover, examine
from grading.observations import Wander, progress
from grading.repeats import widened
from grading.rough import LOW_ORDERS, LOW_WIDER, Rough, rough_surface
from grading.signs.faults import still_said
from grading.signs.jumps import Jump, jump_times
from grading.signs.lone import Lone
from grading.signs.prepared import Prepared, without
from grading.signs.still import Still
from grading.surface import Posterior, explain
from grading.tir import spread_mm
from grading.trace import trace

DRAWS = 1000
# Prior standard deviation of an even drift over a sweep, or the closure where that is larger, in mm. A
# closure beyond three of it, and of its own uncertainty, is no even drift of a warming bay: when it came
# is not known, and the level is let wander.
DRIFT_MM = 0.003
WANDERS_FROM_MM, WANDERS_FROM_U = 0.004, 2.0
# Probability that readings which can be read in more than one way are the surface's own, all of them.
PLAIN_SHARE = 0.65
# Where so many times the share of surfaces that the method asks for pass an arc, it is left in doubt.
STILL_DOUBT = 10.0
# And a limit is reached where so many of the surfaces that the rest leaves possible are over it.
REACHES_FROM = 0.003
# How unevenly a crank is barred between two marks (standard deviation of the log speed): common
# practice, no source. It smears an order k over about k (1 +- this).
UNEVEN = 0.4
# A feature is reported from this probability on.
REPORT_FROM = 0.9
# An order is reported where its amplitude is above this many standard uncertainties, or below one that is.
SEEN_FROM = 2.0


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One source of uncertainty and its standard uncertainty in the true TIR, in mm."""

    source: str
    u_mm: float


@dataclass(frozen=True, slots=True)
class LocalFeature:
    """A dent (negative height) or bulge narrower than 15 degrees: its middle, its full width at the
    foot, its height above the harmonics."""

    angle_deg: float
    width_deg: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Way:
    """One way to read what happened. tir_mm: shape (m,), equally likely true TIRs; hidden: shape (m,),
    whether a feature that no reading speaks for makes it; mean_mm: shape (720,), the mean surface."""

    posterior: Posterior
    surfaces: Surfaces
    rest: Leftover
    rough: Rough | None
    tir_mm: F64
    hidden: NDArray[np.bool_]
    mean_mm: F64


@dataclass(frozen=True, slots=True)
class SweepFigures:
    """tir_mm: shape (m,), equally likely true TIRs as far as random effects go; hidden: shape (m,), those
    made by what no reading speaks for. budget: their sources. mean_mm: shape (720,), the mean surface.
    doubts: why the readings can be read in more than one way. faults: why they may not be judged after
    all. unsure: whether an arc may hide what is over the limit. jumps: of the level in the last sweep."""

    tir_mm: F64
    hidden: NDArray[np.bool_]
    mean_mm: F64
    harmonics: tuple[Harmonic, ...]
    residual_rms_mm: float
    features: tuple[LocalFeature, ...]
    budget: tuple[BudgetLine, ...]
    warnings: tuple[str, ...]
    doubts: tuple[str, ...]
    faults: tuple[str, ...]
    unsure: bool
    jumps: tuple[Jump, ...]
    running: bool


def analyse(each: Sequence[Prepared], rng: np.random.Generator, surface: SurfaceRules) -> SweepFigures:
    """Everything about these sweeps together that is random, oldest first."""
    last, rules = each[-1], surface.sweep
    running = any(one.running for one in each)
    level = [_wander(one.seen) for one in each]
    ways = [_way([one.clean for one in each], level, running, rng, rules)]
    doubts: list[str] = []
    if any(one.jumps for one in each):
        stepped = [Wander(DRIFT_MM, 0.0, jump_times(one.clean, one.jumps)) for one in each]
        ways.append(_way([one.clean for one in each], stepped, running, rng, rules))
        doubts += [_jumps_said(one.clean, one.jumps) for one in each if one.jumps]
    if any(one.lone.doubtful.size for one in each):
        fewer = [without(one.used, np.union1d(one.lone.doubtful, one.lone.spikes)) for one in each]
        ways.append(_way(fewer, level, running, rng, rules))
        doubts += [_lone_said(one.used, one.lone) for one in each if one.lone.doubtful.size]
    plain = ways[0]
    faults, held = _held(each, level, running, rng, surface)
    if held is not None and not faults:
        ways.append(replace(plain, tir_mm=held[1], hidden=np.zeros(held[1].size, dtype=bool), rough=None))
        doubts.append(still_said(held[0]))
    tir = np.concatenate([way.tir_mm for way in ways])
    hidden = np.concatenate([way.hidden for way in ways])
    excess = _lift_excess(last.sweep, plain.posterior)
    if excess > 0:
        tir = np.abs(tir + _lift_errors(last.sweep.gauge.repeatability_dof, tir.size, rng) * excess)
    mixed = _mixed([way.tir_mm.size for way in ways], rng)
    return SweepFigures(
        tir_mm=tir[mixed],
        hidden=hidden[mixed],
        mean_mm=plain.mean_mm,
        harmonics=_reported(plain.posterior, plain.surfaces),
        residual_rms_mm=plain.rest.scatter_mm,
        features=() if plain.rough is not None else _features(plain.posterior, plain.surfaces),
        budget=_budget(last.sweep, ways, running, excess),
        warnings=_warnings(plain, last.lone),
        doubts=tuple(doubts),
        faults=faults,
        unsure=held is not None,
        jumps=last.jumps,
        running=running,
    )


def _mixed(sizes: Sequence[int], rng: np.random.Generator) -> NDArray[np.intp]:
    """Indices into the draws of all ways, end to end, shape (DRAWS,): the plain way's take their share, the
    others' the rest."""
    others = len(sizes) - 1
    shares = [1.0] if others == 0 else [PLAIN_SHARE, *[(1 - PLAIN_SHARE) / others] * others]
    starts = np.concatenate([[0], np.cumsum(sizes)])
    picked = [starts[i] + rng.integers(0, sizes[i], round(DRAWS * share)) for i, share in enumerate(shares)]
    return rng.permutation(np.concatenate(picked)).astype(np.intp)


def _held(
    each: Sequence[Prepared],
    level: Sequence[Wander],
    running: bool,
    rng: np.random.Generator,
    surface: SurfaceRules,
) -> tuple[tuple[str, ...], tuple[Still, F64] | None]:
    """Arcs that stand still where the rest of the turn says otherwise: faults, or an arc in doubt with the
    true TIRs that the rest alone leaves possible. Only a single sweep is asked, and only where what the
    rest leaves possible reaches the limit: no arc can hide an over then."""
    if len(each) > 1:
        return (), None
    doubt, rules = None, surface.sweep
    for still in each[0].still:
        found = hold_against(each[0], still, level[0], UNEVEN if running else 0.0, rng, DRAWS)
        if found is None or float(np.mean(found.tir_mm > surface.limit_mm)) < REACHES_FROM:
            continue
        if found.share < rules.min_still_share * (0.5 if running else 1.0):
            return (still_said(still),), None
        if found.share < STILL_DOUBT * rules.min_still_share and doubt is None:
            doubt = (still, found.tir_mm)
    return (), doubt


def _wander(seen: Coverage) -> Wander:
    """How the level may have moved, by what the second pass over the start says of it."""
    closure = abs(seen.closure_mm or 0.0)
    if seen.closure_mm is None:
        return Wander(DRIFT_MM, 0.0, np.zeros(0))
    odd = closure > max(WANDERS_FROM_MM, WANDERS_FROM_U * seen.closure_u_mm)
    return Wander(max(DRIFT_MM, closure), closure if odd else 0.0, np.zeros(0))


def _way(
    sweeps: Sequence[Sweep],
    wanders: Sequence[Wander],
    running: bool,
    rng: np.random.Generator,
    rules: SweepRules,
) -> Way:
    """The surface with harmonics and one feature; where that leaves over what is no noise, a rough one."""
    posterior = explain(sweeps, wanders, spread=UNEVEN if running else 0.0)
    surfaces = draw(posterior.weighed, rng, DRAWS)
    step = sweeps[0].gauge.resolution_mm
    rest = np.concatenate(_leftovers(sweeps, wanders, surfaces))
    angle = np.concatenate([sweep.angle_deg for sweep in sweeps])
    found = examine(angle, rest, step, posterior.noise_mm)
    if not found.is_structured(rules.misfit_from) and posterior.noise_mm <= rules.max_noise_mm:
        return Way(posterior, surfaces, found, None, surfaces.tir_mm, surfaces.hidden, surfaces.mean_mm)
    single = float(np.hypot(min(posterior.noise_mm, rules.max_noise_mm), step / 12**0.5))
    prior = posterior.weighed.best.prior[-2 * posterior.weighed.orders :: 2]
    low = LOW_WIDER * np.maximum(prior[: LOW_ORDERS - 1], 1e-5)
    rough = rough_surface(trace(sweeps, wanders, single, low), rng, DRAWS)
    tir = rough.tir_mm
    if step > 2 * posterior.noise_mm:
        # Readings about a crest share one step, whose rounding no number of them averages out.
        tir = np.abs(tir + rng.normal(0.0, 0.7 * step / 6**0.5, tir.size))
    around = np.append(rough.mean_mm, rough.mean_mm[0])
    mean = np.interp(np.arange(PLACES), np.linspace(0, PLACES, around.size), around)
    return Way(posterior, surfaces, found, rough, tir, np.zeros(tir.size, dtype=bool), mean)


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


def _jumps_said(sweep: Sweep, jumps: tuple[Jump, ...]) -> str:
    most = max(jumps, key=lambda jump: abs(jump.height_mm))
    times = "once" if len(jumps) == 1 else f"{len(jumps)} times"
    at = float(sweep.angle_deg[most.after]) % 360.0
    if sweep.surface == "face":
        return (
            f"the level jumped {times}, by {most.height_mm:+.3f} mm at {at:.0f} degrees: end float, or the "
            "surface itself; one indicator cannot tell; hold the crankshaft to one end of its float and "
            "take the sweep again"
        )
    return (
        f"the level jumped {times}, by {most.height_mm:+.3f} mm at {at:.0f} degrees: a knock at the base, or "
        "an edge of the surface itself; bar slowly over that place, and take the sweep again"
    )


def _lone_said(sweep: Sweep, lone: Lone) -> str:
    said = ", ".join(
        f"{float(sweep.value_mm[i]):.3f} mm at {float(sweep.angle_deg[i]) % 360.0:.0f} degrees"
        for i in lone.doubtful[:3]
    )
    return f"a single reading stands out ({said}): a slip, or a narrow dent; read that place again"


def _warnings(way: Way, lone: Lone) -> tuple[str, ...]:
    said = []
    if lone.spikes.size:
        count = lone.spikes.size
        were = "reading was" if count == 1 else "readings were"
        said.append(f"{count} single {were} left out that no surface can give; check cable and contact")
    if way.rough is not None:
        said.append(
            "the readings follow no form of few waves: a notched, lobed or dented surface, or noise that "
            "runs on; the uncertainty was widened"
        )
    return tuple(said)


def _lift_excess(sweep: Sweep, posterior: Posterior) -> float:
    """What a repeatability test saw beyond the noise within the sweep, as u of a difference of two
    readings, in mm: it may not average out, so nothing is divided by the number of readings."""
    lift = sweep.gauge.repeatability_mm or 0.0
    rest = lift**2 - posterior.noise_mm**2 - sweep.gauge.resolution_mm**2 / 12
    return float(np.sqrt(2 * max(rest, 0.0)))


def _lift_errors(dof: int | None, count: int, rng: np.random.Generator) -> F64:
    """Shape (count,): Student's t where a few lifts stand behind it (JCGM 101:2008, 6.4.9), else normal."""
    return rng.standard_normal(count) if dof is None else rng.standard_t(dof, count)


def _reported(posterior: Posterior, surfaces: Surfaces) -> tuple[Harmonic, ...]:
    found = to_harmonics(surfaces.coefficients)
    weighed = posterior.weighed
    variance = np.diag(weighed.best.covariance)[-2 * weighed.orders :]
    u = np.sqrt(np.maximum(variance[0::2], variance[1::2]))
    seen = [h.order for h in found if h.amplitude_mm > SEEN_FROM * u[h.order - 1] and h.amplitude_mm > 1e-6]
    return found[: max([1, *seen])]


def _features(posterior: Posterior, surfaces: Surfaces) -> tuple[LocalFeature, ...]:
    weighed = posterior.weighed
    if weighed.feature is None or weighed.feature_probability < REPORT_FROM:
        return ()
    middle, width = weighed.feature
    at = round(middle / 360.0 * PLACES) % PLACES
    angle = np.array([at * 360.0 / PLACES])
    level = float((columns(angle, weighed.orders) @ surfaces.coefficients)[0])
    return (LocalFeature(middle % 360.0, width, float(surfaces.mean_mm[at]) - level),)


def _budget(sweep: Sweep, ways: Sequence[Way], running: bool, excess: float) -> tuple[BudgetLine, ...]:
    plain = ways[0]
    lines = _rough_lines(plain) if plain.rough is not None else _harmonic_lines(sweep, plain, running)
    if len(ways) > 1:
        own = spread_mm(plain.tir_mm)
        whole = spread_mm(np.concatenate([way.tir_mm for way in ways]))
        lines.append(BudgetLine("what the readings leave open (see doubts)", _root(whole**2 - own**2)))
    dof = sweep.gauge.repeatability_dof
    if dof is not None:
        excess = widened(excess, dof)
    if excess > 0 or dof is not None:
        few = "" if dof is None else f" ({dof} degrees of freedom)"
        lines.append(BudgetLine(f"repeatability between lifts, beyond the noise of the sweep{few}", excess))
    return tuple(lines)


def _rough_lines(way: Way) -> list[BudgetLine]:
    return [BudgetLine("a surface of no simple form, or noise that runs on", spread_mm(way.tir_mm))]


def _harmonic_lines(sweep: Sweep, way: Way, running: bool) -> list[BudgetLine]:
    posterior, surfaces = way.posterior, way.surfaces
    total = spread_mm(surfaces.tir_mm) ** 2
    settled = surfaces.tir_mm[~surfaces.hidden]
    alone = min(spread_mm(settled) ** 2, total) if settled.size > 50 else total
    best = posterior.weighed.best
    high, low = int(np.argmax(surfaces.mean_mm)), int(np.argmin(surfaces.mean_mm))
    apart = abs(high - low) / PLACES
    drift = min(float(best.covariance[1, 1]) * apart**2, 0.5 * alone)
    rest = alone - drift
    noise, display = posterior.noise_mm**2, posterior.display_mm**2
    angle = 0.0
    if not running:
        rate = np.gradient(surfaces.mean_mm, 360.0 / PLACES)
        angle = min(float(np.mean(rate**2) * np.mean(sweep.angle_u_deg**2)), 0.9 * noise)
    whole = noise + display
    pace = "uneven pace between marks (it moves crests, not their height)"
    step = sweep.gauge.resolution_mm
    return [
        BudgetLine("noise of single readings", _root(rest * (noise - angle) / whole)),
        BudgetLine(f"display step of {step:g} mm", _root(rest * display / whole)),
        BudgetLine(pace if running else "angle of single readings", _root(rest * angle / whole)),
        BudgetLine("drift over the sweep", _root(drift)),
        BudgetLine("what gaps between readings may hide", _root(total - alone)),
    ]


def _root(x: float) -> float:
    return float(np.sqrt(max(x, 0.0)))
