"""The figures of a single sweep: its drawn TIRs, harmonics, feature, and the random lines of its budget."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from grading.coverage import Coverage
from grading.draws import PLACES, Surfaces, draw
from grading.endfloat import Jump, find_jumps, jump_times
from grading.evidence import F64, Sweep
from grading.harmonics import Harmonic, columns, to_harmonics
from grading.observations import one_turn, progress
from grading.repeats import widened
from grading.surface import DRIFT_MM, Posterior, explain
from grading.tir import spread_mm

DRAWS = 1000
# From this standard uncertainty on, and where it varies this much over the sweep, an angle's error runs
# on from reading to reading as it does between marks; below, it is one of each reading alone.
RUNNING_FROM_DEG, RUNNING_RATIO = 1.0, 3.0
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
class SweepFigures:
    """tir_mm: shape (m,), equally likely true TIRs as far as random effects go. budget: their sources."""

    tir_mm: F64
    harmonics: tuple[Harmonic, ...]
    residual_rms_mm: float
    features: tuple[LocalFeature, ...]
    budget: tuple[BudgetLine, ...]
    warnings: tuple[str, ...]
    end_float_steps: int


def angles_run_on(sweep: Sweep) -> bool:
    """Whether the angles' errors are those of a pace between marks rather than of each reading."""
    u = sweep.angle_u_deg
    return bool(u.max() >= RUNNING_FROM_DEG and u.max() >= RUNNING_RATIO * max(float(u.min()), 1e-3))


def analyse(sweep: Sweep, seen: Coverage, rng: np.random.Generator) -> SweepFigures:
    """Everything about one sweep that is random; `seen`: its coverage."""
    running = angles_run_on(sweep)
    drift = DRIFT_MM if running else max(DRIFT_MM, abs(seen.closure_mm or 0.0))
    used = one_turn(sweep) if running else sweep
    jumps = find_jumps(used) if sweep.surface == "face" else ()
    spread = UNEVEN if running else 0.0
    posterior = explain(used, spread=spread, drift_mm=drift, steps=jump_times(used, jumps))
    surfaces = draw(posterior.weighed, rng, DRAWS)
    tir = surfaces.tir_mm
    excess = _lift_excess(sweep, posterior)
    if excess > 0:
        tir = np.abs(tir + _lift_errors(sweep.gauge.repeatability_dof, tir.size, rng) * excess)
    rms = residual_rms_mm(used, surfaces)
    return SweepFigures(
        tir_mm=tir[rng.permutation(tir.size)],
        harmonics=_reported(posterior, surfaces),
        residual_rms_mm=rms,
        features=_features(posterior, surfaces),
        budget=_budget(sweep, posterior, surfaces, running, excess),
        warnings=_warnings(jumps),
        end_float_steps=len(jumps),
    )


def _warnings(jumps: tuple[Jump, ...]) -> tuple[str, ...]:
    if not jumps:
        return ()
    most = max(abs(jump.height_mm) for jump in jumps)
    times = "once" if len(jumps) == 1 else f"{len(jumps)} times"
    return (
        f"the level jumped {times}, by up to {most:.3f} mm: end float; it was taken out of the figures; "
        "hold the crankshaft to one end of its float and take the sweep again",
    )


def residual_rms_mm(sweep: Sweep, surfaces: Surfaces) -> float:
    """Root mean square of readings minus the mean surface, level and drift taken out, in mm."""
    places = np.arange(PLACES + 1) * (360.0 / PLACES)
    closed = np.append(surfaces.mean_mm, surfaces.mean_mm[0])
    rest = sweep.value_mm - np.interp(np.mod(sweep.angle_deg, 360.0), places, closed)
    rest = rest - surfaces.drift_mm * progress(sweep)
    return float(np.std(rest))


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


def _budget(
    sweep: Sweep, posterior: Posterior, surfaces: Surfaces, running: bool, excess: float
) -> tuple[BudgetLine, ...]:
    total = spread_mm(surfaces.tir_mm) ** 2
    settled = surfaces.tir_mm[~surfaces.hidden]
    alone = min(spread_mm(settled) ** 2, total) if settled.size > 50 else total
    best = posterior.weighed.best
    high, low = int(np.argmax(surfaces.mean_mm)), int(np.argmin(surfaces.mean_mm))
    apart = abs(high - low) / PLACES
    drift = min(float(best.covariance[1, 1]) * apart**2, 0.5 * alone)
    rest = alone - drift
    step = sweep.gauge.resolution_mm
    noise, display = posterior.noise_mm**2, posterior.display_mm**2
    angle = 0.0
    if not running:
        rate = np.gradient(surfaces.mean_mm, 360.0 / PLACES)
        angle = min(float(np.mean(rate**2) * np.mean(sweep.angle_u_deg**2)), 0.9 * noise)
    whole = noise + display
    lines = [
        BudgetLine("noise of single readings", _root(rest * (noise - angle) / whole)),
        BudgetLine(f"display step of {step:g} mm", _root(rest * display / whole)),
        BudgetLine(
            "uneven pace between marks (it moves crests, not their height)"
            if running
            else "angle of single readings",
            _root(rest * angle / whole),
        ),
        BudgetLine("drift over the sweep", _root(drift)),
        BudgetLine("what gaps between readings may hide", _root(total - alone)),
    ]
    dof = sweep.gauge.repeatability_dof
    if dof is not None:
        excess = widened(excess, dof)
    if excess > 0 or dof is not None:
        few = "" if dof is None else f" ({dof} degrees of freedom)"
        lines.append(BudgetLine(f"repeatability between lifts, beyond the noise of the sweep{few}", excess))
    return tuple(lines)


def _root(x: float) -> float:
    return float(np.sqrt(max(x, 0.0)))
