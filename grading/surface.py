"""One sweep's surface: spectra, a local feature and the display's steps weighed together, and equally
likely surfaces drawn from what remains possible."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from grading.evidence import F64, Sweep
from grading.features import (
    NEAR_DEG,
    NEAR_LOG,
    NEAR_STEP_DEG,
    NEAR_STEP_LOG,
    STEP_DEG,
    WIDTHS_DEG,
    Dictionary,
    Match,
    Moments,
    around,
    bumps,
    everywhere,
    match,
    moments,
    moments_everywhere,
)
from grading.harmonics import columns
from grading.observations import Observations, gather
from grading.quantised import propagate
from grading.spectra import Fits, Normal, Spectra, fit, solve, spectra

# Highest order looked for.
ORDERS_MAX = 20
# Prior standard deviations: the mean level about the readings' middle; drift over the sweep, or the
# closure where that is larger; the height of a feature that was found. In mm.
LEVEL_MM, DRIFT_MM, FOUND_MM = 0.5, 0.003, 0.1
# Probability, before any reading, that a surface has a dent or bulge: common practice, no source.
FEATURE_CHANCE = 0.3
# Log evidence from which a feature is taken into the fit of noise and spectrum.
FOUND_FROM = 4.0
# Spectra whose weight is below this share of the best are dropped.
KEEP_FROM = 1e-4
# Readings are treated as intervals where the noise, the display's included, is below this share of a step.
INTERVAL_BELOW = 0.65
# Where the search for the noise begins at the least, in mm.
NOISE_START_MM = 0.0003


@dataclass(frozen=True, slots=True)
class Model:
    """One spectrum, with or without a feature, and its share of the posterior (log weight)."""

    log_weight: float
    mean: F64
    covariance: F64
    prior: F64
    noise: float
    freedom: float
    match: Match | None
    cross: F64 | None
    entry_log_prior: F64 | None


@dataclass(frozen=True, slots=True)
class Posterior:
    """All models that remain possible for one sweep. columns before the harmonics: level, drift, then
    `extra`. feature: the most probable one as (middle_deg, width_deg), where it is taken to be there."""

    models: tuple[Model, ...]
    dictionary: Dictionary
    leading: int
    orders: int
    noise_mm: float
    display_mm: float
    intervals: bool
    feature: tuple[float, float] | None
    feature_probability: float


def design(data: Observations, orders: int, extra: F64 | None) -> F64:
    """level, drift, extra columns, harmonics: shape (g, p)."""
    parts = [np.ones((data.angle_deg.size, 1)), data.along[:, None]]
    if extra is not None and extra.size:
        parts.append(extra)
    parts.append(columns(data.angle_deg, orders))
    return np.concatenate(parts, axis=1)


def normal(x: F64, data: Observations) -> Normal:
    """Normal equations of the weighted observations."""
    weighted = x * data.weight[:, None]
    squares = float(data.weight @ data.value_mm**2) + data.within
    return Normal(x.T @ weighted, data.value_mm @ weighted, squares, data.count)


def explain(sweep: Sweep, *, spread: float, drift_mm: float) -> Posterior:
    """The posterior over surfaces of one sweep. spread: how unevenly its angles may run (relative)."""
    step = sweep.gauge.resolution_mm
    middle = float(np.mean(sweep.value_mm))
    data = _about(gather(sweep, by_value=False), middle)
    family = spectra(ORDERS_MAX, spread=spread)
    fixed = np.array([LEVEL_MM, drift_mm])
    floor = 0.3 * step / 12**0.5 + 1e-6
    guess = float(np.hypot(0.0015, step / 12**0.5))
    first = _weigh(data, family, fixed, noise_mm=guess, noise_known=False, floor_mm=floor)
    best = max(first.models, key=lambda m: m.log_weight)
    noise = float(np.sqrt(max(best.noise**2 - step**2 / 12, 0.01 * best.noise**2)))
    if not 0 < step or best.noise > INTERVAL_BELOW * step:
        return replace(first, noise_mm=noise, display_mm=step / 12**0.5)
    grouped = _about(gather(sweep, by_value=True), middle)
    x = design(grouped, family.orders, None)
    prior = best.prior
    if first.feature is not None:
        place = Dictionary(np.array([first.feature[0]]), np.array([first.feature[1]]))
        x = np.concatenate([x, bumps(place, grouped.angle_deg)], axis=1)
        prior = np.append(prior, FOUND_MM)
    sites = propagate(x, prior, grouped.value_mm, grouped.weight, step, max(noise, NOISE_START_MM))
    pseudo = Observations(
        grouped.angle_deg, grouped.along, sites.value_mm, grouped.weight * sites.weight, 0.0, grouped.count
    )
    second = _weigh(pseudo, family, fixed, noise_mm=1.0, noise_known=True, floor_mm=0.0)
    single = grouped.count / float(pseudo.weight.sum())
    display = float(np.sqrt(max(single - sites.noise_mm**2, 0.0)))
    return replace(second, noise_mm=sites.noise_mm, display_mm=display, intervals=True)


def _about(data: Observations, middle: float) -> Observations:
    return Observations(
        data.angle_deg, data.along, data.value_mm - middle, data.weight, data.within, data.count
    )


def _log_mean(log_values: F64, log_prior: F64) -> float:
    total = log_values + log_prior
    top = float(total.max())
    return top + float(np.log(np.exp(total - top).sum()))


def _weigh(
    data: Observations, family: Spectra, fixed: F64, *, noise_mm: float, noise_known: bool, floor_mm: float
) -> Posterior:
    x = design(data, family.orders, None)
    plain = normal(x, data)
    fits = fit(
        plain, family, fixed, noise_mm=noise_mm, noise_known=noise_known, noise_floor_mm=floor_mm
    )
    coarse, coarse_moments = everywhere(), moments_everywhere(data, x)
    found = _best_feature(fits, coarse_moments, coarse)
    with_feature = fits
    dictionary, found_moments = coarse, coarse_moments
    log_prior = np.full(coarse.middle_deg.size, -np.log(coarse.middle_deg.size))
    if found is not None:
        for _ in range(2):
            near = around(*found)
            near_moments = moments(near, data, x)
            at = found
            found = _best_feature(with_feature, near_moments, near) or at
            place = Dictionary(np.array([found[0]]), np.array([found[1]]))
            longer = np.concatenate([bumps(place, data.angle_deg), x], axis=1)
            with_feature = _without_first(
                fit(
                    normal(longer, data),
                    family,
                    np.append(FOUND_MM, fixed),
                    noise_mm=noise_mm,
                    noise_known=noise_known,
                    noise_floor_mm=floor_mm,
                ),
                plain,
            )
        near = around(*found)
        dictionary, found_moments, log_prior = _joined(coarse, coarse_moments, near, moments(near, data, x), found)
    models = _models(fits, with_feature, found_moments, log_prior)
    top = max(m.log_weight for m in models)
    kept = tuple(m for m in models if m.log_weight > top + np.log(KEEP_FROM))
    chance = sum(np.exp(m.log_weight - top) for m in kept if m.match is not None)
    total = sum(np.exp(m.log_weight - top) for m in kept)
    return Posterior(
        kept, dictionary, fixed.size, family.orders, 0.0, 0.0, False, found, float(chance / total)
    )


def _best_feature(fits: Fits, found: Moments, dictionary: Dictionary) -> tuple[float, float] | None:
    """Middle and width of the feature that most improves the evidence of any spectrum, or None."""
    top = float(fits.evidence.max())
    best, place = top + FOUND_FROM, None
    order = np.argsort(-fits.evidence)
    chosen = np.unique(np.concatenate([order[:4], np.arange(1, fits.evidence.size, 4)]))
    for s in chosen:
        m = match(found, fits.mean[s], fits.covariance[s], float(fits.noise[s]))
        gain = m.log_factor.max(axis=0)
        j = int(np.argmax(gain))
        if fits.evidence[s] + gain[j] > best:
            best = float(fits.evidence[s] + gain[j])
            place = (float(dictionary.middle_deg[j]), float(dictionary.width_deg[j]))
    return place


def _without_first(fits: Fits, plain: Normal) -> Fits:
    """The same noise and spectra as were found with the feature's column, without that column."""
    prior = np.ascontiguousarray(fits.prior[:, 1:])
    mean, covariance, evidence = solve(plain, prior, fits.noise)
    return Fits(prior, fits.noise, evidence, mean, covariance, fits.freedom)


def _joined(
    coarse: Dictionary, coarse_moments: Moments, near: Dictionary, near_moments: Moments, at: tuple[float, float]
) -> tuple[Dictionary, Moments, F64]:
    """The dictionary of the whole turn with a finer one in its place around one feature, and the log
    prior of each entry."""
    off = np.abs(np.mod(coarse.middle_deg - at[0] + 180.0, 360.0) - 180.0)
    away = (off > NEAR_DEG) | (np.abs(np.log(coarse.width_deg / at[1])) > NEAR_LOG)
    each = -np.log(coarse.middle_deg.size)
    widths_log = float(np.mean(np.diff(np.log(np.array(WIDTHS_DEG)))))
    finer = np.log(NEAR_STEP_DEG / STEP_DEG * NEAR_STEP_LOG / widths_log)
    return (
        Dictionary(
            np.concatenate([coarse.middle_deg[away], near.middle_deg]),
            np.concatenate([coarse.width_deg[away], near.width_deg]),
        ),
        Moments(
            np.concatenate([coarse_moments.cross[:, away], near_moments.cross], axis=1),
            np.concatenate([coarse_moments.square[away], near_moments.square]),
            np.concatenate([coarse_moments.right[away], near_moments.right]),
        ),
        np.concatenate([np.full(int(away.sum()), each), np.full(near.middle_deg.size, each + finer)]),
    )


def _models(fits: Fits, with_feature: Fits, found: Moments, log_prior: F64) -> list[Model]:
    models = []
    floor = float(max(fits.evidence.max(), with_feature.evidence.max())) + np.log(KEEP_FROM)
    for s in range(fits.evidence.size):
        if fits.evidence[s] > floor:
            models.append(
                Model(
                    float(fits.evidence[s]) + np.log(1 - FEATURE_CHANCE),
                    fits.mean[s],
                    fits.covariance[s],
                    fits.prior[s],
                    float(fits.noise[s]),
                    float(fits.freedom[s]),
                    None,
                    None,
                    None,
                )
            )
    weighed = []
    for s in range(with_feature.evidence.size):
        noise = float(with_feature.noise[s])
        m = match(found, with_feature.mean[s], with_feature.covariance[s], noise)
        log_height = np.log(m.log_factor.shape[0])
        gain = _log_mean(m.log_factor - log_height, log_prior)
        weighed.append((float(with_feature.evidence[s]) + gain + np.log(FEATURE_CHANCE), s, m))
    top = max(w for w, _, _ in weighed)
    for weight, s, m in weighed:
        if weight > top + np.log(KEEP_FROM):
            models.append(
                Model(
                    weight,
                    with_feature.mean[s],
                    with_feature.covariance[s],
                    with_feature.prior[s],
                    float(with_feature.noise[s]),
                    float(with_feature.freedom[s]),
                    m,
                    found.cross,
                    log_prior,
                )
            )
    return models
