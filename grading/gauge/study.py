"""What one gauge in the hands of several people can tell: a study by analysis of variance.

Every person measures every part the same number of times; parts, persons and their interaction are
random effects. Lengths in mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from grading.evidence import F64
from grading.gauge.anova import Crossed, Source, crossed, one_way
from grading.gauge.budget import effective_dof, resolution_u
from grading.statistics.distributions import chi2_quantile, t_quantile

# Draws of a generalised interval: its ends are then good to about one part in a hundred.
DRAWS = 50_000
# Seed of these draws: the same study gives the same figures.
SEED = 20_07

EXACT = "chi-square, exact"
LARGE_SAMPLE = "modified large sample"
GENERALISED = "generalised, by simulation"


@dataclass(frozen=True, slots=True)
class Spread:
    """A standard deviation with its confidence interval and the method that gave the interval."""

    sd_mm: float
    low_mm: float
    high_mm: float
    method: str


@dataclass(frozen=True, slots=True)
class Study:
    """Result of a study.

    repeatability: one person, one part, again and again. reproducibility: between persons, how they
    differ on some parts included; None where one person measured. measuring: both together, the
    standard deviation of one figure by anyone, never given below repeatability; dof: its degrees of
    freedom (Welch-Satterthwaite).
    parts: between the parts themselves. negative: components whose estimate was below zero and is
    given as zero. table: the analysis of variance.
    """

    parts_count: int
    persons_count: int
    repeats: int
    confidence: float
    grand_mean_mm: float
    repeatability: Spread
    reproducibility: Spread | None
    measuring: Spread
    dof: float
    parts: Spread
    negative: tuple[str, ...]
    table: tuple[Source, ...]


def study(values_mm: F64, confidence: float = 0.95) -> Study:
    """A balanced crossed study by the ANOVA method, all effects random, the interaction kept.

    values_mm: shape (parts, persons, repeats); at least 2 parts and 2 repeats; one person gives no
    reproducibility. ValueError otherwise, or where no reading differs from another.

    Intervals: repeatability by chi-square, exact for normal readings; repeatability and
    reproducibility together, a sum of mean squares, by the modified large-sample method (Graybill
    and Wang 1980; Burdick and Graybill 1992, 3.2); reproducibility alone and parts, differences of
    mean squares, by generalised intervals (Hamada and Weerahandi 2000).
    """
    if values_mm.ndim != 3 or values_mm.shape[0] < 2 or values_mm.shape[1] < 1 or values_mm.shape[2] < 2:
        raise ValueError("at least 2 parts, 1 person and 2 repeats are needed, the same number everywhere")
    if not np.isfinite(values_mm).all() or float(np.ptp(values_mm)) == 0.0:
        raise ValueError("the readings must be numbers, and not all the same")
    if values_mm.shape[1] == 1:
        return _one_person(values_mm, confidence)
    p, o, r = values_mm.shape
    found = crossed(values_mm)
    sources = (found.rows, found.columns, found.interaction, found.within)
    # Expected mean squares turned round: coefficients of the mean squares in each component.
    people = np.array([0.0, 1.0 / (p * r), (p - 1.0) / (p * r), -1.0 / r])
    measuring = np.array([0.0, 1.0 / (p * r), (p - 1.0) / (p * r), (r - 1.0) / r])
    parts = np.array([1.0 / (o * r), 0.0, -1.0 / (o * r), 0.0])
    repeatability = _exact(found.within, confidence)
    both = _large_sample(measuring, sources, confidence)
    return Study(
        parts_count=p,
        persons_count=o,
        repeats=r,
        confidence=confidence,
        grand_mean_mm=found.grand_mean,
        repeatability=repeatability,
        reproducibility=_generalised(people, sources, confidence),
        measuring=replace(both, sd_mm=max(both.sd_mm, repeatability.sd_mm)),
        dof=_dof(measuring, sources),
        parts=_generalised(parts, sources, confidence),
        negative=_negative(found, p),
        table=tuple(
            Source(name, source.dof, source.squares)
            for name, source in zip(("parts", "persons", "persons on parts", "repeats"), sources, strict=True)
        ),
    )


def _one_person(values: F64, confidence: float) -> Study:
    p, _, r = values.shape
    found = one_way(list(values[:, 0, :]))
    sources = (found.between, found.within)
    repeatability = _exact(found.within, confidence)
    between = np.array([1.0 / r, -1.0 / r])
    return Study(
        parts_count=p,
        persons_count=1,
        repeats=r,
        confidence=confidence,
        grand_mean_mm=float(values.mean()),
        repeatability=repeatability,
        reproducibility=None,
        measuring=repeatability,
        dof=float(found.within.dof),
        parts=_generalised(between, sources, confidence),
        negative=("parts",) if found.f_ratio < 1.0 else (),
        table=(
            Source("parts", found.between.dof, found.between.squares),
            Source("repeats", found.within.dof, found.within.squares),
        ),
    )


def _negative(found: Crossed, p: int) -> tuple[str, ...]:
    both = found.interaction.mean_square
    people = found.columns.mean_square + (p - 1.0) * both - p * found.within.mean_square
    names = (("reproducibility", people), ("parts", found.rows.mean_square - both))
    return tuple(name for name, component in names if component < 0.0)


def _exact(source: Source, confidence: float) -> Spread:
    tail, nu, square = 0.5 * (1.0 - confidence), source.dof, source.squares
    low, high = square / chi2_quantile(1.0 - tail, nu), square / chi2_quantile(tail, nu)
    return Spread(math.sqrt(source.mean_square), math.sqrt(low), math.sqrt(high), EXACT)


def _large_sample(weights: F64, sources: tuple[Source, ...], confidence: float) -> Spread:
    """A sum of mean squares with positive weights: each contributes the squared distance from its
    mean square to the end of its own interval."""
    tail = 0.5 * (1.0 - confidence)
    estimate = below = above = 0.0
    for weight, source in zip(weights, sources, strict=True):
        part = float(weight) * source.mean_square
        estimate += part
        below += (part * (1.0 - source.dof / chi2_quantile(1.0 - tail, source.dof))) ** 2
        above += (part * (source.dof / chi2_quantile(tail, source.dof) - 1.0)) ** 2
    low = max(0.0, estimate - math.sqrt(below))
    return Spread(math.sqrt(estimate), math.sqrt(low), math.sqrt(estimate + math.sqrt(above)), LARGE_SAMPLE)


def _generalised(weights: F64, sources: tuple[Source, ...], confidence: float) -> Spread:
    """A weighted sum of mean squares, weights of either sign: quantiles of the sum with each expected
    mean square replaced by its sum of squares over a chi-square draw."""
    rng = np.random.default_rng(SEED)
    total = np.zeros(DRAWS)
    for weight, source in zip(weights, sources, strict=True):
        draws = rng.chisquare(source.dof, DRAWS)
        total += weight * source.squares / draws
    tail = 0.5 * (1.0 - confidence)
    low, high = (math.sqrt(max(0.0, float(q))) for q in np.quantile(total, [tail, 1.0 - tail]))
    estimate = float(sum(w * s.mean_square for w, s in zip(weights, sources, strict=True)))
    return Spread(math.sqrt(max(0.0, estimate)), low, high, GENERALISED)


def _dof(weights: F64, sources: tuple[Source, ...]) -> float:
    parts = [float(w) * s.mean_square for w, s in zip(weights, sources, strict=True)]
    # u^4 over sum of u_i^4 / nu_i, with u_i^2 = weight x mean square
    return effective_dof(
        math.sqrt(sum(parts)), [math.sqrt(part) for part in parts], [float(s.dof) for s in sources]
    )


@dataclass(frozen=True, slots=True)
class Telling:
    """How near to a limit these people with this gauge can tell, mm.

    unclear_mm: a figure nearer to the limit than this stays unclear (guard band for the proof asked
    for). told_high_mm: a part whose true figure is further from the limit than this is told apart from
    the limit that often by one measurement, by the upper confidence limit of the measuring spread: so it
    is in as many of such studies as the confidence says, and more. told_mm: the same as if the spread were
    exactly what the study found, which is true in little more than half of them.
    """

    probability: float
    unclear_mm: float
    told_mm: float
    told_high_mm: float


def telling(found: Study, probability: float = 0.95, step_mm: float = 0.0) -> Telling:
    """The smallest distance from the limit that can be told (JCGM 106:2012, 8.3.2; one-sided).

    probability: of the proof, and of reaching it, between 0.5 and 1; ValueError outside. step_mm:
    one step of the display, which may hide what the readings scatter: no spread below step / sqrt(12)
    is believed. The guard band is t sd with the study's degrees of freedom; a true figure twice that
    far from the limit reads beyond the guard band with the same probability. An error that the gauge
    makes for everyone alike is not in it: no study of this kind can see it.
    """
    if not 0.5 < probability < 1.0:
        raise ValueError(f"a probability between 0.5 and 1 is needed, found {probability}")
    floor = resolution_u(step_mm)
    band = t_quantile(probability, max(1.0, found.dof)) * max(floor, found.measuring.sd_mm)
    cautious = t_quantile(probability, math.inf) * max(floor, found.measuring.high_mm)
    return Telling(probability, band, 2.0 * band, 2.0 * max(band, cautious))
