"""The figures of a surface from one sweep, or from several pooled: its drawn TIRs, harmonics, feature, and
the random lines of its budget."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from config.runout import SurfaceRules
from contract.terms import TYPED
from grading.evidence import F64, Sweep
from grading.gauge.repeats import widened
from grading.runout.elsewhere import elsewhere_unsure
from grading.runout.flat import flat_unsure
from grading.runout.lines import BudgetLine, LocalFeature, budget_of, features_of, reported
from grading.runout.repeated import DOF, TurnToTurn, turn_to_turn
from grading.runout.stood import stood_unsure
from grading.runout.switched import Switched, switched
from grading.runout.turns import HalfTurn, half_turn
from grading.runout.unsigned import Folded, folded, surer_than
from grading.runout.ways import DRAWS, Way, held_arc, wander_of, way_of
from grading.signs.contact import follows_unsure
from grading.signs.faults import HALF_TURN, HALF_TURN_MAYBE, ends_said, still_said, switched_said
from grading.signs.jumps import Jump, jump_times
from grading.signs.levels import return_times
from grading.signs.lone import Lone
from grading.signs.prepared import Prepared, without
from grading.surface.explain import Posterior
from grading.surface.harmonics import Harmonic
from grading.surface.observations import Wander


@dataclass(frozen=True, slots=True)
class SweepFigures:
    """tir_mm: shape (m,), equally likely true TIRs as far as random effects go; hidden: shape (m,), those
    made by what no reading speaks for. budget: their sources. mean_mm: shape (720,), the mean surface.
    doubts: why the readings can be read in more than one way. faults: why they may not be judged after
    all. unsure: why what is over may hide all the same. jumps: of the level in the last sweep."""

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
    unsure: tuple[str, ...]
    jumps: tuple[Jump, ...]
    running: bool
    fold: tuple[Folded, ...]


def analyse(each: Sequence[Prepared], rng: np.random.Generator, surface: SurfaceRules) -> SweepFigures:
    """Everything about these sweeps together that is random, oldest first."""
    last, rules = each[-1], surface.sweep
    running = any(one.running for one in each)
    level = [replace(wander_of(one.seen, rules), steps=return_times(one.clean)) for one in each]
    ways = [way_of([one.clean for one in each], level, running, rng, rules)]
    doubts: list[str] = []
    if any(one.jumps for one in each):
        steps = [[*jump_times(one.clean, one.jumps), *return_times(one.clean)] for one in each]
        stepped = [Wander(rules.drift_mm, 0.0, np.array(each_s)) for each_s in steps]
        ways.append(way_of([one.clean for one in each], stepped, running, rng, rules))
        doubts += [_jumps_said(one.clean, one.jumps) for one in each if one.jumps]
    if any(one.lone.doubtful.size for one in each):
        fewer = [without(one.used, np.union1d(one.lone.doubtful, one.lone.spikes)) for one in each]
        ways.append(way_of(fewer, level, running, rng, rules))
        doubts += [_lone_said(one.used, one.lone) for one in each if one.lone.doubtful.size]
    plain = ways[0]
    held = held_arc(each, level, running, rng, surface)
    faults = () if held.fault is None else (held.fault,)
    if held.doubt is not None:
        still, rest_mm = held.doubt
        ways.append(replace(plain, tir_mm=rest_mm, hidden=np.zeros(rest_mm.size, dtype=bool), rough=None))
        doubts.append(still_said(still))
    unsure = [still_said(found) for found in (held.doubt and held.doubt[0], held.maybe) if found is not None]
    tir = np.concatenate([way.tir_mm for way in ways])
    hidden = np.concatenate([way.hidden for way in ways])
    two = [found for found in map(turn_to_turn, each) if found is not None]
    repeated = max(two, key=lambda found: found.beyond_mm, default=None)
    # Two turns that lie on each other are half a turn each at the worst, and all of it was read (from mark to
    # mark one of them is fitted).
    alike = repeated is not None and 2 * repeated.sd_mm <= rules.max_turn_shift_mm
    asked = len(each) == 1 and (running or not alike)
    half = half_turn(last, level[-1], plain.posterior.weighed, rules) if asked else HalfTurn()
    if half.log_odds > np.log(rules.signs.half_turn_odds):
        faults = (*faults, HALF_TURN)
    elif np.mean(np.append(half.tir_mm, 0.0) > surface.limit_mm) > rules.signs.reach_share:
        likely = half.log_odds > np.log(rules.signs.half_turn_maybe)
        unsure.append(HALF_TURN_MAYBE if likely else ends_said(last.seen.closure_mm or 0.0))
    fold = tuple(folded(last.sweep, surface))
    unsure += (
        follows_unsure(last.sweep, rules)
        + stood_unsure(last.sweep, surface)
        + flat_unsure(last.clean, surface)
    )
    unsure += elsewhere_unsure(last, tir, surface)
    unsure += surer_than(fold, rules.signs.unsigned_maybe)
    other = switched(last, level[-1], rules) if len(each) == 1 else Switched()
    if other.log_odds > np.log(rules.signs.switched_odds):
        faults = (*faults, switched_said(other.at_deg, sure=True))
    elif np.mean(np.append(other.tir_mm, 0.0) > surface.limit_mm) > rules.signs.reach_share:
        unsure.append(switched_said(other.at_deg, sure=False))
    excess = _lift_excess(last.sweep, plain.posterior)
    if excess > 0:
        tir = np.abs(tir + _lift_errors(last.sweep.gauge.repeatability_dof, tir.size, rng) * excess)
    beyond = 0.0 if repeated is None else repeated.beyond_mm
    if beyond > 0:
        tir = np.abs(tir + _lift_errors(DOF, tir.size, rng) * beyond)
    mixed = _mixed([way.tir_mm.size for way in ways], rules.plain_share, rng)
    return SweepFigures(
        tir_mm=tir[mixed],
        hidden=hidden[mixed],
        mean_mm=plain.mean_mm,
        harmonics=reported(plain.posterior, plain.surfaces),
        residual_rms_mm=plain.rest.scatter_mm,
        features=() if plain.rough is not None else features_of(plain.posterior, plain.surfaces),
        budget=(*budget_of(last.sweep, ways, running, excess), *_turns_line(repeated)),
        warnings=(*_warnings(plain, last), *_drift_said(last, level[-1], rules.signs.slip_u)),
        doubts=tuple(doubts),
        faults=faults,
        unsure=tuple(unsure),
        jumps=last.jumps,
        running=running,
        fold=fold,
    )


def _mixed(sizes: Sequence[int], plain_share: float, rng: np.random.Generator) -> NDArray[np.intp]:
    """Indices into the draws of all ways, end to end, shape (DRAWS,): the plain way's take their share, the
    others' the rest."""
    others = len(sizes) - 1
    shares = [1.0] if others == 0 else [plain_share, *[(1 - plain_share) / others] * others]
    starts = np.concatenate([[0], np.cumsum(sizes)])
    picked = [starts[i] + rng.integers(0, sizes[i], round(DRAWS * share)) for i, share in enumerate(shares)]
    return rng.permutation(np.concatenate(picked)).astype(np.intp)


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
    said = _named(sweep, lone.doubtful)
    return f"a single reading stands out ({said}): a slip, or a narrow dent; read that place again"


def _named(sweep: Sweep, which: NDArray[np.intp]) -> str:
    """The first of these readings by value and place."""
    said = [
        f"{float(sweep.value_mm[i]):.3f} mm at {float(sweep.angle_deg[i]) % 360.0:.0f} degrees"
        for i in which[:3]
    ]
    return ", ".join([*said, "…"] if which.size > 3 else said)


def _warnings(way: Way, last: Prepared) -> tuple[str, ...]:
    said = []
    out = last.lone.spikes
    if out.size:
        were = "reading was" if out.size == 1 else "readings were"
        typed = last.sweep.gauge.id == TYPED
        said.append(
            f"{out.size} single {were} left out that no surface can give ({_named(last.used, out)})"
            + (
                ": a slip of the pencil; correct it or read that place again"
                if typed
                else "; check cable and contact"
            )
        )
    if way.short_mm > 0:
        said.append(
            f"the readings swing by {way.short_mm:.3f} mm in waves of a few readings each: teeth or bolts, "
            "or a plunger that chatters; either may be, and the uncertainty was widened"
        )
    if way.rough is not None:
        said.append(
            "the readings follow no form of few waves: a notched, lobed or dented surface, or noise that "
            "runs on; the uncertainty was widened"
        )
    return tuple(said)


def _drift_said(last: Prepared, level: Wander, clear_u: float) -> tuple[str, ...]:
    """A start that is not found again as it was, where that is no even drift, nor chance."""
    if level.wander_mm <= clear_u * last.seen.closure_u_mm:
        return ()
    return (
        f"the second pass over the start differs by {last.seen.closure_mm:+.3f} mm: drift, or a base that "
        "moved; the level is let wander in between, and the uncertainty was widened",
    )


def _lift_excess(sweep: Sweep, posterior: Posterior) -> float:
    """What a repeatability test saw beyond the noise within the sweep, as u of a difference of two
    readings, in mm: it may not average out, so nothing is divided by the number of readings."""
    lift = sweep.gauge.repeatability_mm or 0.0
    rest = lift**2 - posterior.noise_mm**2 - sweep.gauge.resolution_mm**2 / 12
    return float(np.sqrt(2 * max(rest, 0.0)))


def _turns_line(repeated: TurnToTurn | None) -> list[BudgetLine]:
    if repeated is None:
        return []
    source = f"repeatability from turn to turn, beyond the noise of the sweep ({DOF} degrees of freedom)"
    return [BudgetLine(source, widened(repeated.beyond_mm, DOF))]


def _lift_errors(dof: int | None, count: int, rng: np.random.Generator) -> F64:
    """Shape (count,): Student's t where a few lifts stand behind it (JCGM 101:2008, 6.4.9), else normal."""
    return rng.standard_normal(count) if dof is None else rng.standard_t(dof, count)
