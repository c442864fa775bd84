"""What is reported of a surface beside its true TIR: its harmonics, a dent, and where the uncertainty comes
from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from grading.evidence import Sweep
from grading.gauge.repeats import widened
from grading.runout.ways import Way
from grading.surface.draws import PLACES, Surfaces
from grading.surface.explain import Posterior
from grading.surface.harmonics import Harmonic, columns, to_harmonics
from grading.surface.tir import spread_mm

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
    """A dent (negative height) or bulge narrower than 30 degrees: its middle, its full width at the
    foot, its height above the harmonics."""

    angle_deg: float
    width_deg: float
    height_mm: float


def reported(posterior: Posterior, surfaces: Surfaces) -> tuple[Harmonic, ...]:
    """The orders that stand out of what is uncertain of them, and all below the highest of these."""
    found = to_harmonics(surfaces.coefficients)
    weighed = posterior.weighed
    variance = np.diag(weighed.best.covariance)[-2 * weighed.orders :]
    u = np.sqrt(np.maximum(variance[0::2], variance[1::2]))
    seen = [h.order for h in found if h.amplitude_mm > SEEN_FROM * u[h.order - 1] and h.amplitude_mm > 1e-6]
    return found[: max([1, *seen])]


def features_of(posterior: Posterior, surfaces: Surfaces) -> tuple[LocalFeature, ...]:
    """The dent or bulge that the readings speak for, if they do."""
    weighed = posterior.weighed
    if weighed.feature is None or weighed.feature_probability < REPORT_FROM:
        return ()
    middle, width = weighed.feature
    at = round(middle / 360.0 * PLACES) % PLACES
    angle = np.array([at * 360.0 / PLACES])
    level = float((columns(angle, weighed.orders) @ surfaces.coefficients)[0])
    return (LocalFeature(middle % 360.0, width, float(surfaces.mean_mm[at]) - level),)


def budget_of(sweep: Sweep, ways: Sequence[Way], running: bool, excess: float) -> tuple[BudgetLine, ...]:
    """The random sources of uncertainty. excess: what lifts showed beyond the noise of the sweep, in mm."""
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
    pace = "uneven pace between known angles (it moves crests, not their height)"
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
