"""From tagged readings to the surface's true TIR with its uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from grading.coverage import measure_coverage
from grading.evidence import F64, Sweep
from grading.harmonics import Harmonic
from grading.onesweep import BudgetLine, LocalFeature, analyse
from grading.tir import TirDistribution, spread_mm

# Degrees (standard, root mean square over the sweep): angles that are known worse move the high spot by
# more than a technician would mark it off by. Our own choice, no source.
ANGLE_POOR_DEG = 5.0
# Readings below which nothing is estimated at all.
READINGS_MIN = 8
# Largest tilt of the plunger against the direction of travel, in degrees, rectangular from 0: common
# practice, no source. Reading = true / cos (handbook rule), so the true travel is always the smaller.
TILT_MAX_DEG = 3.0
# Give of stand and base under the plunger's changing force, as a share of the travel, rectangular: no
# source; a plunger's force changes by about 0.1 N per mm, and an arm gives about 10 um per N.
FLEX_SHARE = 0.001
# What no family of forms holds of a real surface and a real pace, standard deviation: a share of the
# random spread, and never less than this, in mm. Found by simulation with forms that the fit does not know.
FORM_SHARE, FORM_MIN_MM = 0.3, 0.0004
# Smoothing of the drawn values, as a share of their spread (of the middle 68 %).
SMOOTHING = 0.15
# No sweep's own spread is taken to be less when sweeps are weighed against each other, in mm.
SPREAD_MIN_MM = 0.0003
# Sweeps that differ by more than chance allows in 1 of 100 cases are said to disagree.
DISAGREE_AT = {2: 6.63, 3: 9.21, 4: 11.34, 5: 13.28, 6: 15.09, 7: 16.81, 8: 18.48}


@dataclass(frozen=True, slots=True)
class RunoutEstimate:
    """All figures of one surface, from one sweep or several of them together.

    tir_mm: raw, as a dial would have shown it, of the last sweep. true_tir_mm, u_expanded_mm: best
    estimate of the surface's true TIR, and the half-width around it that covers it with probability
    `coverage`. distribution: all that is known of the true TIR (JCGM 101:2008). u_random_mm,
    u_systematic_mm: standard uncertainties (the random one from its central 95 %); only the random part
    shrinks when sweeps are repeated. harmonics … closure_mm, readings: of the last sweep; closure_mm is
    None where nothing was passed twice. tilt_mrad: a face read at a known radius. sweeps: how many were
    combined.
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
    tilt_mrad: float | None = None
    end_float_steps: int = 0
    sweeps: int = 1

    def p_over(self, limit_mm: float) -> float:
        """Probability that the true TIR is above the limit (JCGM 106:2012, 7)."""
        return self.distribution.p_over(limit_mm)


def estimate_runout(sweeps: Sequence[Sweep], *, seed: int, coverage: float = 0.95) -> RunoutEstimate:
    """The true TIR of the surface that all these sweeps have read, oldest first.

    A pure function: the same sweeps and seed give the same bits on one machine. A sweep needs at
    least 8 readings around the turn (`judge_coverage` says whether it is fit to be judged). Raises
    ValueError where there is no sweep, or one with fewer than 8 readings.
    """
    if not sweeps:
        raise ValueError("no sweep to estimate from")
    few = min(sweep.angle_deg.size for sweep in sweeps)
    if few < READINGS_MIN:
        raise ValueError(f"{few} readings in a sweep, at least {READINGS_MIN} are needed")
    found = [measure_coverage(sweep) for sweep in sweeps]
    each = [
        analyse(sweep, seen, np.random.default_rng([seed, i]))
        for i, (sweep, seen) in enumerate(zip(sweeps, found, strict=True))
    ]
    centres, shrink, disagree = _combine([one.tir_mm for one in each])
    last = each[-1]
    cosine = float(np.deg2rad(TILT_MAX_DEG)) ** 2 / 2
    centres = centres * (1 - cosine / 3)
    size = float(np.median(centres))
    gauge = sweeps[-1].gauge
    flat = [
        BudgetLine("gauge span error (its permissible error, rectangular)", gauge.mpe_mm / 3**0.5),
        BudgetLine("plunger tilt (cosine error)", float(size * cosine * (1 / 5 - 1 / 9) ** 0.5)),
        BudgetLine("give of base and stand", size * FLEX_SHARE / 3**0.5),
    ]
    low, high = np.quantile(centres, [0.16, 0.84])
    spread = 0.5 * float(high - low)
    form = float(np.hypot(FORM_SHARE * spread, FORM_MIN_MM))
    common = float(np.hypot(flat[1].u_mm, flat[2].u_mm))
    blur = float(np.sqrt(common**2 + form**2 + (SMOOTHING * spread) ** 2))
    distribution = TirDistribution(centres, blur, gauge.mpe_mm)
    y = distribution.median_mm()
    first = last.harmonics[0]
    warnings = list(last.warnings)
    angle_u_deg = float(np.sqrt(np.mean(np.square(sweeps[-1].angle_u_deg))))
    if angle_u_deg > ANGLE_POOR_DEG:
        warnings.append(
            f"crank angles are known to about {angle_u_deg:.0f} degrees only (standard), "
            "and so are the high spot and the harmonics' phases"
        )
    if disagree:
        warnings.append("the sweeps differ by more than their noise explains; the uncertainty was widened")
    return RunoutEstimate(
        tir_mm=float(np.ptp(sweeps[-1].value_mm)),
        true_tir_mm=y,
        u_expanded_mm=distribution.expanded_mm(y, coverage),
        coverage=coverage,
        distribution=distribution,
        u_random_mm=float(np.hypot(spread_mm(centres), form)),
        u_systematic_mm=float(np.hypot(common, flat[0].u_mm)),
        harmonics=last.harmonics,
        eccentricity_mm=first.amplitude_mm,
        high_spot_deg=first.phase_deg,
        residual_rms_mm=last.residual_rms_mm,
        budget=(
            *(BudgetLine(line.source, line.u_mm * shrink) for line in last.budget),
            BudgetLine("forms of surface and pace that the fit does not know", form),
            *flat,
        ),
        features=last.features,
        warnings=tuple(warnings),
        tilt_mrad=_tilt(sweeps[-1], first),
        end_float_steps=last.end_float_steps,
        sweeps=len(sweeps),
        covered_deg=found[-1].covered_deg,
        largest_gap_deg=found[-1].largest_gap_deg,
        closure_mm=found[-1].closure_mm,
        readings=found[-1].readings,
    )


def _combine(each: list[F64]) -> tuple[F64, float, bool]:
    """Draws of several sweeps taken together: (draws, factor on a single sweep's random budget, whether
    the sweeps disagree). Weights go by each sweep's own spread; where they disagree, the draws are
    spread by the ratio of Birge (external over internal consistency)."""
    if len(each) == 1:
        return each[0], 1.0, False
    spread = np.array([np.diff(np.quantile(t, [0.16, 0.84]))[0] / 2 for t in each])
    spread = np.hypot(spread, SPREAD_MIN_MM)
    weight = spread**-2 / np.sum(spread**-2)
    joint = np.asarray(np.sum(weight[:, None] * np.array(each), axis=0))
    middle = np.array([np.median(t) for t in each])
    squares = float(np.sum(((middle - weight @ middle) / spread) ** 2))
    k = len(each)
    disagree = squares > DISAGREE_AT.get(k, k - 1 + 3.3 * (k - 1) ** 0.5)
    birge = (squares / (k - 1)) ** 0.5 if disagree else 1.0
    joint = np.median(joint) + (joint - np.median(joint)) * birge
    last = spread_mm(each[-1])
    return joint, spread_mm(joint) / last if last > 0 else 1.0, disagree


def _tilt(sweep: Sweep, first: Harmonic) -> float | None:
    if sweep.surface != "face" or not sweep.radius_mm:
        return None
    return float(np.arctan(first.amplitude_mm / sweep.radius_mm)) * 1000
