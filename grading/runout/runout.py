"""From tagged readings to the surface's true TIR with its uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from config.runout import SurfaceRules
from grading.evidence import F64, Sweep
from grading.runout.lines import BudgetLine, LocalFeature
from grading.runout.needle import shown_mm, with_needle
from grading.runout.onesweep import SweepFigures, analyse
from grading.runout.ways import DRAWS
from grading.signs.prepared import Prepared
from grading.statistics.distributions import chi2_quantile
from grading.surface.harmonics import Harmonic
from grading.surface.tir import TirDistribution, spread_mm

# Degrees (standard, root mean square over the sweep): angles that are known worse move the high spot by
# more than a technician would mark it off by. Our own choice, no source.
ANGLE_POOR_DEG = 5.0
# Readings below which no sweep is looked at at all.
READINGS_MIN = 8
# Smoothing of the drawn values, as a share of their spread (of the middle 68 %).
SMOOTHING = 0.15
# No sweep's own spread is taken to be less when sweeps are weighed against each other, in mm.
SPREAD_MIN_MM = 0.0003


@dataclass(frozen=True, slots=True)
class RunoutEstimate:
    """All figures of one surface, from one sweep or several of them together.

    tir_mm: raw, as a dial would have shown it, of the last sweep. true_tir_mm, u_expanded_mm: best
    estimate of the surface's true TIR, and the half-width around it that covers it with probability
    `coverage`. distribution: all that is known of the true TIR (JCGM 101:2008). u_random_mm,
    u_systematic_mm: standard uncertainties (the random one from its central 95 %); only the random part
    shrinks when sweeps are repeated. harmonics … closure_mm, readings: of the last sweep; closure_mm is
    None where nothing was passed twice. doubts: why the readings can be read in more than one way, all of
    which the distribution holds. unsure: why what is over the limit may be hidden all the same. tilt_mrad: a
    face read at a known radius. sweeps: how many were combined.
    """

    tir_mm: float
    true_tir_mm: float
    u_expanded_mm: float
    coverage: float
    distribution: TirDistribution
    u_random_mm: float
    u_systematic_mm: float
    harmonics: tuple[Harmonic, ...]
    eccentricity_mm: float
    high_spot_deg: float
    residual_rms_mm: float
    covered_deg: float
    largest_gap_deg: float
    closure_mm: float | None
    readings: int
    budget: tuple[BudgetLine, ...]
    features: tuple[LocalFeature, ...] = ()
    warnings: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    unsure: tuple[str, ...] = ()
    tilt_mrad: float | None = None
    end_float_steps: int = 0
    sweeps: int = 1

    def p_over(self, limit_mm: float) -> float:
        """Probability that the true TIR is above the limit (JCGM 106:2012, 7)."""
        return self.distribution.p_over(limit_mm)


@dataclass(frozen=True, slots=True)
class Alone:
    """One sweep by itself: all that was seen of it, and its figures."""

    prepared: Prepared
    figures: SweepFigures

    @property
    def sweep(self) -> Sweep:
        """The sweep as it came."""
        return self.prepared.sweep

    @property
    def tir_mm(self) -> float:
        """Its estimate, before what applies to all sweeps alike."""
        return float(np.median(self.figures.tir_mm))

    @property
    def u_mm(self) -> float:
        """Standard uncertainty of its random parts."""
        return float(np.hypot(spread_mm(self.figures.tir_mm), SPREAD_MIN_MM))


def look_at(prepared: Prepared, rules: SurfaceRules, *, seed: int) -> Alone:
    """One sweep by itself."""
    figures = analyse([prepared], np.random.default_rng([seed, 0]), rules)
    tremble_mm = rules.allow.needle_tremble_mm
    tir, hidden = with_needle(figures.tir_mm, figures.hidden, prepared.sweep, tremble_mm, seed=seed)
    return Alone(prepared, replace(figures, tir_mm=tir, hidden=hidden))


def together(
    each: Sequence[Alone], rules: SurfaceRules, *, seed: int, coverage: float = 0.95, agree: bool = True
) -> RunoutEstimate:
    """The true TIR of the surface that all these sweeps have read, oldest first, one at least.

    agree: whether they show the same figure; where they do not, any of them may be the true one, and all of
    them are held. A pure function: the same sweeps and seed give the same bits on one machine.
    """
    last = each[-1]
    gauge = last.sweep.gauge
    if agree:
        centres, budget, warnings = _joined(each, rules, seed)
    else:
        centres = np.concatenate([one.figures.tir_mm for one in each])
        budget = [BudgetLine("sweeps that disagree", spread_mm(centres))]
        warnings = list(last.figures.warnings)
    cosine = float(np.deg2rad(rules.allow.tilt_max_deg)) ** 2 / 2
    centres = centres * (1 - cosine / 3)
    size = float(np.median(centres))
    flat = [
        BudgetLine("gauge span error (its permissible error, rectangular)", gauge.mpe_mm / 3**0.5),
        BudgetLine("plunger tilt (cosine error)", float(size * cosine * (1 / 5 - 1 / 9) ** 0.5)),
        BudgetLine("give of base and stand", size * rules.allow.flex_share / 3**0.5),
        *_allowed(rules),
    ]
    float_u_mm = max(one.sweep.float_u_mm for one in each)
    if float_u_mm > 0.0:
        flat.append(BudgetLine("end float taken off, as two indicators show it", float_u_mm))
    low, high = np.quantile(centres, [0.16, 0.84])
    spread = 0.5 * float(high - low)
    form = float(np.hypot(rules.allow.form_share * spread, rules.allow.form_mm))
    common = float(np.sqrt(sum(line.u_mm**2 for line in flat[1:])))
    blur = float(np.sqrt(common**2 + form**2 + (SMOOTHING * spread) ** 2))
    distribution = TirDistribution(centres, blur, gauge.mpe_mm)
    y = distribution.median_mm()
    figures = last.figures
    first = figures.harmonics[0]
    angle_u_deg = float(np.sqrt(np.mean(np.square(last.sweep.angle_u_deg))))
    if angle_u_deg > ANGLE_POOR_DEG:
        warnings.append(
            f"crank angles are known to about {angle_u_deg:.0f} degrees only (standard), "
            "and so are the high spot and the harmonics' phases"
        )
    return RunoutEstimate(
        tir_mm=shown_mm(last.sweep),
        true_tir_mm=y,
        u_expanded_mm=distribution.expanded_mm(y, coverage),
        coverage=coverage,
        distribution=distribution,
        u_random_mm=float(np.hypot(spread_mm(centres), form)),
        u_systematic_mm=float(np.hypot(common, flat[0].u_mm)),
        harmonics=figures.harmonics,
        eccentricity_mm=first.amplitude_mm,
        high_spot_deg=first.phase_deg,
        residual_rms_mm=figures.residual_rms_mm,
        budget=(*budget, BudgetLine("forms of surface and pace that the fit does not know", form), *flat),
        features=figures.features,
        warnings=tuple(warnings),
        doubts=tuple(dict.fromkeys(doubt for one in each for doubt in one.figures.doubts)),
        unsure=_unsure(each),
        tilt_mrad=_tilt(last.sweep, first),
        end_float_steps=len(figures.jumps),
        sweeps=len(each),
        covered_deg=last.prepared.seen.covered_deg,
        largest_gap_deg=last.prepared.seen.largest_gap_deg,
        closure_mm=last.prepared.seen.closure_mm,
        readings=last.prepared.seen.readings,
    )


def _unsure(each: Sequence[Alone]) -> tuple[str, ...]:
    """Why what is over the limit may be hidden, where no more sweeps speak against it than for it."""
    said = [one.figures.unsure for one in each if one.figures.unsure]
    return tuple(dict.fromkeys(each for one in said for each in one)) if 2 * len(said) >= len(each) else ()


def _allowed(rules: SurfaceRules) -> list[BudgetLine]:
    """The allowances that a method asks for: each moves both ends of the range."""
    asked = {
        "crank shifting in its main bearings (method's allowance)": rules.allow.main_bearing_mm,
        "gauge's hysteresis (method's allowance)": rules.allow.hysteresis_mm,
        "temperature over the sweep (method's allowance)": rules.allow.temperature_mm,
    }
    return [BudgetLine(source, half / 3**0.5) for source, half in asked.items() if half > 0]


def _joined(each: Sequence[Alone], rules: SurfaceRules, seed: int) -> tuple[F64, list[BudgetLine], list[str]]:
    """Draws of all sweeps together, the random lines of their budget, and warnings.

    Sweeps that show one and the same surface at the same angles are pooled in one fit, so that what is
    random shrinks and what hides between readings is seen by the others. Where the angles differ (the
    indicator was set up elsewhere) or are known to marks only, each has its own fit, and their figures are
    weighed.
    """
    last = each[-1].figures
    warnings = list(last.warnings)
    if len(each) == 1:
        return last.tir_mm, list(last.budget), warnings
    plain = all(not one.figures.doubts and not one.figures.running for one in each)
    if plain and all(_same_surface(one, each[-1], rules) for one in each[:-1]):
        rng = np.random.default_rng([seed, 1])
        found = analyse([one.prepared for one in each], rng, rules)
        tir, hidden = found.tir_mm, found.hidden
        for one in each:  # no fit knows what the needle showed between stops
            tir, hidden = with_needle(tir, hidden, one.sweep, rules.allow.needle_tremble_mm, seed=seed)
        return tir, list(found.budget), list(dict.fromkeys([*warnings, *found.warnings]))
    centres, disagree = _weighed(each, rules)
    own = spread_mm(last.tir_mm)
    shrink = spread_mm(centres) / own if own > 0 else 1.0
    if disagree:
        warnings.append("the sweeps differ by more than their noise explains; the uncertainty was widened")
    return centres, [BudgetLine(line.source, line.u_mm * shrink) for line in last.budget], warnings


def _same_surface(one: Alone, other: Alone, rules: SurfaceRules) -> bool:
    """Whether two sweeps show the same heights at the same angles, within what is uncertain of them."""
    apart = one.figures.mean_mm - other.figures.mean_mm
    allowed = np.hypot(rules.same_mm, rules.same_u * np.hypot(one.u_mm, other.u_mm))
    return bool(np.std(apart) <= allowed)


def _weighed(each: Sequence[Alone], rules: SurfaceRules) -> tuple[F64, bool]:
    """Draws of several sweeps taken together, and whether the sweeps disagree. Weights go by each
    sweep's own spread, of what its readings speak for; what may hide between readings is the same
    surface's in all of them, and is taken once, from the sweep in which it is least. Where they disagree,
    the draws are spread by the ratio of Birge (external over internal consistency)."""
    settled = []
    for one in each:
        seen = one.figures.tir_mm[~one.figures.hidden]
        settled.append(np.resize(seen if seen.size > DRAWS // 20 else one.figures.tir_mm, DRAWS))
    spread = np.array([np.hypot(spread_mm(t), SPREAD_MIN_MM) for t in settled])
    weight = spread**-2 / np.sum(spread**-2)
    joint = np.asarray(np.sum(weight[:, None] * np.array(settled), axis=0))
    middle = np.array([np.median(t) for t in settled])
    squares = float(np.sum(((middle - weight @ middle) / spread) ** 2))
    k = len(each)
    disagree = squares > chi2_quantile(1.0 - rules.disagree_chance, k - 1)
    birge = (squares / (k - 1)) ** 0.5 if disagree else 1.0
    joint = np.median(joint) + (joint - np.median(joint)) * birge
    least = min(range(k), key=lambda i: each[i].u_mm)
    figures = each[least].figures
    beyond = np.where(figures.hidden, figures.tir_mm - middle[least], 0.0)
    return joint + np.resize(beyond, joint.size), disagree


def _tilt(sweep: Sweep, first: Harmonic) -> float | None:
    if sweep.surface != "face" or not sweep.radius_mm:
        return None
    return float(np.arctan(first.amplitude_mm / sweep.radius_mm)) * 1000
