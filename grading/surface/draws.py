"""Equally likely true TIRs: surfaces drawn from the posterior, each swept finely (JCGM 101:2008, 7)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from grading.evidence import F64
from grading.surface.features import Dictionary, bumps, bumps_at
from grading.surface.harmonics import columns
from grading.surface.models import Model, Weighed

# Places around the turn at which a drawn surface is evaluated.
PLACES = 720
_ANGLE_DEG: F64 = np.arange(PLACES, dtype=np.float64) * (360.0 / PLACES)
# So many surfaces are drawn at once as a processor's cache holds.
AT_ONCE = 100


@dataclass(frozen=True, slots=True)
class Surfaces:
    """tir_mm: shape (m,), one per drawn surface, in the order of the models. hidden: shape (m,), whether
    the surface has a feature that no reading speaks for. mean_mm: shape (720,), the mean surface, its
    level aside. coefficients: shape (2 K,), mean of the harmonics; nuisance_mm: shape (f,), of the rest.
    probed_mm: shape (m, k), what each drawn surface says of the places asked for."""

    tir_mm: F64
    hidden: NDArray[np.bool_]
    mean_mm: F64
    coefficients: F64
    nuisance_mm: F64
    probed_mm: F64 | None = None


@dataclass(frozen=True, slots=True)
class Probe:
    """Places (k,), in degrees, at which readings are asked for; nuisance (k, f): what moves them there."""

    angle_deg: F64
    nuisance: F64


def draw(posterior: Weighed, rng: np.random.Generator, count: int, probe: Probe | None = None) -> Surfaces:
    """`count` surfaces; models by systematic resampling, so that rare ones come as often as they should."""
    log_weight = np.array([m.log_weight for m in posterior.models])
    weight = np.exp(log_weight - log_weight.max())
    edges = np.cumsum(weight / weight.sum())
    chosen = np.searchsorted(edges, (np.arange(count) + rng.random()) / count)
    shares = np.bincount(np.minimum(chosen, len(edges) - 1), minlength=len(edges))
    dense = _dense(posterior.orders)
    with_local = dense if posterior.local is None else np.hstack([bumps(posterior.local, _ANGLE_DEG), dense])
    tirs, hidden, nuisance = [], [], np.zeros(posterior.leading)
    probed: list[F64] = []
    if probe is not None:
        asked = np.round(np.mod(probe.angle_deg, 360.0) / 360.0 * PLACES).astype(np.int64) % PLACES
    total, mean = np.zeros(PLACES), np.zeros(2 * posterior.orders)
    for model, share in zip(posterior.models, shares, strict=True):
        if share == 0:
            continue
        coefficients, height, entry = _coefficients(model, rng, int(share))
        harmonics = coefficients[:, -2 * posterior.orders :]
        basis = dense if model.match is None else with_local
        # A short spectrum has no columns at the end.
        first, end = coefficients.shape[1] - basis.shape[1], int(np.flatnonzero(model.prior)[-1]) + 1
        basis = basis[:, : end - first].T
        total += coefficients[:, first:end].sum(axis=0) @ basis
        for part in (slice(at, at + AT_ONCE) for at in range(0, int(share), AT_ONCE)):
            surface = coefficients[part, first:end] @ basis
            if entry is not None and height is not None:
                total += _add_bumps(surface, posterior.dictionary, entry[part], height[part])
            if probe is not None:
                level = coefficients[part, : posterior.leading] @ probe.nuisance.T
                probed.append(np.asarray(surface[:, asked] + level))
            tirs.append(surface.max(axis=1) - surface.min(axis=1))
        hidden.append(np.zeros(int(share), dtype=bool) if entry is None else ~_near(posterior, entry))
        nuisance += coefficients[:, : posterior.leading].sum(axis=0)
        mean += harmonics.sum(axis=0)
    return Surfaces(
        np.concatenate(tirs),
        np.concatenate(hidden),
        total / count,
        mean / count,
        nuisance / count,
        np.concatenate(probed) if probed else None,
    )


@cache
def _dense(orders: int) -> F64:
    """`columns` at all places."""
    found = columns(_ANGLE_DEG, orders)
    found.flags.writeable = False
    return found


def _add_bumps(surface: F64, dictionary: Dictionary, entry: NDArray[np.intp], height: F64) -> F64:
    """One entry of this height onto each surface, shape (m, 720), where it reaches; and their sum (720,)."""
    unique, back = np.unique(entry, return_inverse=True)
    chosen = dictionary.at(unique)
    step_deg = 360.0 / PLACES
    reach = int(np.ceil(0.5 * float(chosen.width_deg.max()) / step_deg)) + 1
    middle = np.round(chosen.middle_deg / step_deg).astype(np.int64)
    places = np.mod(middle[:, None] + np.arange(-reach, reach + 1), PLACES)
    bump = height[:, None] * bumps_at(chosen, places * step_deg)[back]
    at = places[back]
    # No entry reaches around the turn: each place comes but once.
    surface.reshape(-1)[at + np.arange(entry.size)[:, None] * PLACES] += bump
    return np.bincount(at.ravel(), bump.ravel(), PLACES).astype(np.float64, copy=False)


def _near(posterior: Weighed, entry: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Whether each drawn feature is the one that the readings speak for."""
    if posterior.feature is None:
        return np.zeros(entry.size, dtype=bool)
    off = np.mod(posterior.dictionary.middle_deg[entry] - posterior.feature[0] + 180.0, 360.0) - 180.0
    return np.asarray(np.abs(off) < 0.5 * posterior.feature[1])


def _coefficients(
    model: Model, rng: np.random.Generator, share: int
) -> tuple[F64, F64 | None, NDArray[np.intp] | None]:
    used = model.prior > 0
    known = not np.isfinite(model.freedom)
    scale = 1.0 if known else np.sqrt(model.freedom / rng.chisquare(model.freedom, share))
    covariance = model.covariance[np.ix_(used, used)]
    covariance = 0.5 * (covariance + covariance.T)
    covariance[np.diag_indices_from(covariance)] += 1e-18
    root = np.linalg.cholesky(covariance)
    out = np.tile(model.mean, (share, 1))
    z = rng.standard_normal((share, int(used.sum()))) * np.reshape(scale, (-1, 1))
    out[:, used] += z @ root.T
    if model.match is None or model.cross is None or model.chance is None:
        return out, None, None
    p = np.cumsum(model.chance)
    at = np.minimum(np.searchsorted(p, p[-1] * rng.random(share)), p.size - 1)
    mean, sd = model.match.heights(at)
    height, entry = mean + sd * rng.standard_normal(share) * scale, at % model.chance.shape[1]
    out -= height[:, None] * (model.covariance @ model.cross[:, entry]).T / model.noise**2
    return out, height, entry
