"""Every spectrum, with and without a local feature, weighed against the others on one sweep."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from grading.evidence import F64
from grading.surface.features import (
    FORMS,
    NEAR_DEG,
    NEAR_LOG,
    NEAR_STEP_DEG,
    NEAR_STEP_LOG,
    STEP_DEG,
    Dictionary,
    Match,
    Moments,
    around,
    best_match,
    bumps,
    cross_everywhere,
    everywhere,
    first_of_highest,
    form,
    joined,
    joined_moments,
    left_at_least,
    match,
    moments,
    moments_everywhere,
    single,
)
from grading.surface.harmonics import columns
from grading.surface.modes import Normal
from grading.surface.observations import Observations
from grading.surface.spectra import Fits, Noise, Spectra, fit

# Prior standard deviation of the height of a feature that was found, in mm.
FOUND_MM = 0.1
# How far a feature's form may depart from a raised cosine, as a share of its height.
ROUGH = 0.12
# Probability, before any reading, that a surface has a dent or bulge: as likely as not.
FEATURE_CHANCE = 0.5
# Log evidence from which a feature is taken into the fit of noise and spectrum.
FOUND_FROM = 4.0
# Models whose weight is below this share of the best are dropped.
KEEP_FROM = 1e-3
# Spectra taken along with a feature: at most so many, whose log evidence is at most so far below the best.
PROMISING_MAX, PROMISING = 12, 9.0


@dataclass(frozen=True, slots=True)
class Model:
    """One spectrum, without a feature (match is None) or with any one of a dictionary.

    log_weight: its share of the posterior. mean (p,), covariance (p, p), prior standard deviations (p,)
    of the columns nuisance, local, harmonics; noise (that of weight 1), freedom: degrees of
    freedom behind it. cross (p, d): of the dictionary. chance (h, d): of each height's scale and entry,
    relative to the likeliest.
    """

    log_weight: float
    mean: F64
    covariance: F64
    prior: F64
    noise: float
    freedom: float
    match: Match | None = None
    cross: F64 | None = None
    chance: F64 | None = None


@dataclass(frozen=True, slots=True)
class Weighed:
    """Models that remain possible. leading: columns of nuisance, before the local ones. feature: middle and
    width in degrees, where the readings speak for one; local: the columns that let its form depart, which
    only models with a feature have. worth: rows of the family that deserve a second look."""

    models: tuple[Model, ...]
    dictionary: Dictionary
    leading: int
    orders: int
    local: Dictionary | None
    feature: tuple[float, float] | None
    feature_probability: float
    worth: NDArray[np.intp]

    @property
    def best(self) -> Model:
        """The most probable model."""
        return max(self.models, key=lambda m: m.log_weight)

    @property
    def log_evidence(self) -> float:
        """Of all together, up to a constant of the readings."""
        return float(np.logaddexp.reduce([m.log_weight for m in self.models]))


def design(data: Observations, orders: int, local: Dictionary | None = None) -> F64:
    """What is no surface, local columns, harmonics: shape (g, p).

    An angle that is only known to u (standard) shows of order k, on average over where it may be, a
    share exp(-k^2 u^2 / 2): the columns are that much smaller, and what is fitted is the surface itself.
    """
    parts = [data.nuisance]
    if local is not None:
        parts.append(bumps(local, data.angle_deg))
    waves = columns(data.angle_deg, orders)
    if data.smear_deg is not None:
        k = np.repeat(np.arange(1, orders + 1), 2)
        waves = waves * np.exp(-0.5 * np.outer(np.deg2rad(data.smear_deg), k) ** 2)
    parts.append(waves)
    return np.concatenate(parts, axis=1)


@dataclass(frozen=True, slots=True)
class Hint:
    """What an earlier look at the same sweep found: spectra worth trying, and a feature's place."""

    rows: NDArray[np.intp]
    feature: tuple[float, float] | None


def weigh(data: Observations, family: Spectra, noise: Noise, hint: Hint | None = None) -> Weighed:
    """All models on these observations."""
    fixed = data.prior_mm
    if hint is not None:
        family = family.only(hint.rows)
    x = design(data, family.orders)
    fits = fit(_normal(x, data), family, fixed, noise)
    rows = np.arange(fits.evidence.size) if hint is None else hint.rows
    dictionary, found = everywhere(), moments_everywhere(data, x)
    log_prior = np.full(dictionary.middle_deg.size, -np.log(dictionary.middle_deg.size))
    known = None if hint is None else hint.feature
    place = _best_place(fits, found, dictionary, any_will_do=known is not None)
    if known is not None and place is not None:
        place = known
    local, chosen = None, _promising(fits)
    with_feature = fits.only(chosen)
    worth = rows[chosen]
    if place is not None:
        bump = bumps(single(place), data.angle_deg)
        wider = _normal(np.concatenate([bump, x], axis=1), data)
        sharper = fit(wider, family, np.append(FOUND_MM, fixed), noise, fits)
        near = around(*place)
        place = _best_place(sharper.without_first(), moments(near, data, x), near) or place
        local = form(*place)
        x = design(data, family.orders, local)
        leading = np.concatenate([fixed, np.full(local.middle_deg.size, ROUGH * _height(sharper))])
        bump = bumps(single(place), data.angle_deg)
        chosen = _promising(sharper)
        with_feature = fit(
            _normal(np.concatenate([bump, x], axis=1), data),
            family.only(chosen),
            np.append(FOUND_MM, leading),
            noise,
            sharper.only(chosen),
        )
        with_feature = with_feature.without_first()
        near = around(*place)
        more = cross_everywhere(data, bumps(local, data.angle_deg))
        found = joined_moments(found, more, data.prior_mm.size, moments(near, data, x))
        dictionary, log_prior = _joined(dictionary, near, place)
        worth = np.union1d(worth, rows[chosen])
    models = _feature_models(with_feature, found, log_prior)
    models = _plain_models(fits, max(m.log_weight for m in models)) + models
    top = max(m.log_weight for m in models)
    kept = tuple(m for m in models if m.log_weight > top + np.log(KEEP_FROM))
    total = sum(np.exp(m.log_weight - top) for m in kept)
    chance = float(sum(np.exp(m.log_weight - top) for m in kept if m.match is not None) / total)
    return Weighed(kept, dictionary, fixed.size, family.orders, local, place, chance, worth)


def _promising(fits: Fits) -> NDArray[np.intp]:
    """The spectra with the best evidence, in their order."""
    order = np.argsort(-fits.evidence, kind="stable")[:PROMISING_MAX]
    return np.sort(order[fits.evidence[order] > fits.evidence[order[0]] - PROMISING])


def mean_surface(weighed: Weighed, angle_deg: F64) -> F64:
    """Expected height under the best model at the angles, its level aside, in mm."""
    best = weighed.best
    waves = columns(angle_deg, weighed.orders)
    if best.match is None or best.cross is None or best.chance is None:
        return np.asarray(waves @ best.mean[-2 * weighed.orders :])
    at = first_of_highest(best.chance.ravel())
    height, entry = best.match.heights(np.array([at]))[0][0], at % best.chance.shape[1]
    mean = best.mean - best.covariance @ best.cross[:, entry] * (height / best.noise**2)
    value = waves @ mean[-2 * weighed.orders :]
    if weighed.local is not None:
        local = slice(weighed.leading, weighed.leading + weighed.local.middle_deg.size)
        value = value + bumps(weighed.local, angle_deg) @ mean[local]
    return np.asarray(value + height * bumps(weighed.dictionary.at(np.array([entry])), angle_deg)[:, 0])


def _normal(x: F64, data: Observations) -> Normal:
    weighted = x * data.weight[:, None]
    squares = float(data.weight @ data.value_mm**2) + data.within
    return Normal(x.T @ weighted, data.value_mm @ weighted, squares, data.count)


def _height(fits: Fits) -> float:
    """Height of the feature in the first column, of the best spectrum, in mm."""
    mean, _ = fits.posterior([int(np.argmax(fits.evidence))])
    return abs(float(mean[0, 0]))


def _best_place(
    fits: Fits, found: Moments, dictionary: Dictionary, *, any_will_do: bool = False
) -> tuple[float, float] | None:
    """Middle and width of the feature that most improves the evidence of any spectrum, or None."""
    best, place = float(fits.evidence.max()) + FOUND_FROM, None
    order = np.argsort(-fits.evidence, kind="stable")
    asked = list(dict.fromkeys([*order[:3].tolist(), *range(1, fits.evidence.size, 5)]))
    left = left_at_least(found, fits.widest(asked))
    for some in [[s] for s in asked] if any_will_do else [asked]:
        for s, mean, covariance in zip(some, *fits.posterior(some), strict=True):
            above = best - float(fits.evidence[s])
            gain = best_match(found, mean, covariance, float(fits.noise[s]), above, left)
            if gain is not None:
                best = float(fits.evidence[s]) + gain[0]
                place = (float(dictionary.middle_deg[gain[1]]), float(dictionary.width_deg[gain[1]]))
                if any_will_do:
                    return place
    return place


def _joined(coarse: Dictionary, near: Dictionary, at: tuple[float, float]) -> tuple[Dictionary, F64]:
    """The dictionary of the whole turn and a finer one that takes its place around one feature, and the log
    prior of each entry: of those that gave way, none."""
    off = np.abs(np.mod(coarse.middle_deg - at[0] + 180.0, 360.0) - 180.0)
    away = (off > NEAR_DEG) | (np.abs(np.log(coarse.width_deg / at[1])) > NEAR_LOG)
    each = -np.log(coarse.middle_deg.size)
    widths = np.log(np.unique(np.array(FORMS)[np.array(FORMS)[:, 1] == 0, 0]))
    finer = np.log(NEAR_STEP_DEG / STEP_DEG * NEAR_STEP_LOG / float(np.mean(np.diff(widths))))
    log_prior = [np.where(away, each, -np.inf), np.full(near.middle_deg.size, each + finer)]
    return joined(coarse, near), np.concatenate(log_prior)


def _plain_models(fits: Fits, least: float) -> list[Model]:
    """Those that count beside one of this weight."""
    weight = fits.evidence + np.log(1 - FEATURE_CHANCE)
    kept = np.flatnonzero(weight > max(float(weight.max()), least) + np.log(KEEP_FROM))
    return [
        Model(float(weight[s]), mean, covariance, fits.prior[s], float(fits.noise[s]), float(fits.freedom[s]))
        for s, mean, covariance in zip(kept, *fits.posterior(kept), strict=True)
    ]


def _feature_models(fits: Fits, found: Moments, log_prior: F64) -> list[Model]:
    models = []
    # A feature can lift a spectrum's evidence only so far above what it is without: those far below
    # the best are matched only while they can still catch up.
    best = -np.inf
    order = np.argsort(-fits.evidence, kind="stable")
    for s, mean, covariance in zip(order, *fits.posterior(order), strict=True):
        noise = float(fits.noise[s])
        m = match(found, mean, covariance, noise)
        total = m.log_factor + log_prior - np.log(m.log_factor.shape[0])
        top = float(total.max())
        chance = np.exp(total - top)
        gain = top + float(np.log(chance.sum()))
        weight = float(fits.evidence[s]) + gain + np.log(FEATURE_CHANCE)
        best = max(best, weight)
        if weight > best + np.log(KEEP_FROM):
            models.append(
                Model(
                    weight,
                    mean,
                    covariance,
                    fits.prior[s],
                    noise,
                    float(fits.freedom[s]),
                    m,
                    found.cross,
                    chance,
                )
            )
    return models
