"""A surface of no known form: what readings say of it where harmonics and one dent do not do.

A Gaussian process (Rasmussen and Williams 2006, 2.2 and 4.2.1) around the turn: low harmonics left free,
and beside them a rough part whose length along the rim and whose size the readings choose. The same
leftovers may be no surface at all but noise that runs on in time; both explanations are weighed by their
evidence, and what cannot be told apart stays in the result as doubt.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from grading.evidence import F64

# Groups of readings at most: the work grows with their cube.
GROUPS_MAX = 400
# Orders below this are smooth, and taken as wide as harmonics alone found them, times this factor.
LOW_ORDERS, LOW_WIDER = 9, 1.5
# Lengths over which a rough surface hangs together, in degrees, and its sizes, in mm.
LENGTHS_DEG = (1.2, 4.0, 12.0)
SIZES_MM = (0.0025, 0.007, 0.02, 0.06)
# Noise that runs on: over how many readings, and how large, in mm. Beside it the surface is smooth.
MEMORIES = (5.0, 20.0)
CREEPS_MM = (0.001, 0.0022, 0.005)
SMOOTH_MM, SMOOTH_DEG = 0.002, 25.0
# Explanations below this share of the best are dropped, and at most so many are kept.
KEEP_FROM, KEEP_MAX = 0.05, 3
# Readings closer than this leave no room for a swing between them, in degrees.
CLOSE_DEG = 1.0
# Places around the turn at which a drawn surface is evaluated.
PLACES = 480
JITTER = 1e-10
# Far above what rounding makes of a variance, and far below any that counts.
ROUNDED_MM2 = 1e-11


@dataclass(frozen=True, slots=True)
class Traced:
    """Readings as this takes them, gathered. angle_deg, order (the readings' number from the first on, their
    mean in a group), value_mm, copies (readings behind each): shape (g,); nuisance (g, f) with prior_mm (f,);
    noise_mm: of a single reading, the display's step included. low_mm (k,): standard deviations of the
    amplitudes of the lowest orders. range_mm: highest less lowest of all readings; gap_deg: from one to the
    next, as a rule."""

    angle_deg: F64
    order: F64
    value_mm: F64
    copies: F64
    nuisance: F64
    prior_mm: F64
    noise_mm: float
    low_mm: F64
    range_mm: float
    gap_deg: float


@dataclass(frozen=True, slots=True)
class Rough:
    """tir_mm: shape (m,), equally likely true TIRs. mean_mm: shape (480,), the mean surface."""

    tir_mm: F64
    mean_mm: F64


@dataclass(frozen=True, slots=True)
class _Apart:
    """How one set of places lies to another, shape (k, l): the covariance of the lowest orders, and the
    distance in degrees."""

    low: F64
    chord_deg: F64

    @classmethod
    def between(cls, one_deg: F64, other_deg: F64, low_mm: F64) -> _Apart:
        off = np.deg2rad(one_deg[:, None] - other_deg)
        return cls(_waves(one_deg, low_mm) @ _waves(other_deg, low_mm).T, _chord_deg(off))

    def prior(self, found: _Explained) -> F64:
        """Covariance of the surface as this explanation has it, shape (k, l)."""
        return np.asarray(self.low + found.size_mm**2 * _matern(self.chord_deg, found.length_deg))


def rough_surface(data: Traced, rng: np.random.Generator, count: int) -> Rough:
    """`count` surfaces from all explanations that remain possible."""
    around: F64 = np.arange(PLACES, dtype=np.float64) * (360.0 / PLACES)
    here = _Apart.between(data.angle_deg, data.angle_deg, data.low_mm)
    across = _Apart.between(data.angle_deg, around, data.low_mm)
    there = _Apart.between(around, around, data.low_mm)
    found = _explanations(data, here)
    kinds = np.array([entry.is_noise for entry in found])
    log_weight = np.array([entry.log_evidence for entry in found]) - np.where(
        kinds, np.log(kinds.sum()), np.log((~kinds).sum())
    )
    weight = np.exp(log_weight - log_weight.max())
    order = [i for i in np.argsort(-weight)[:KEEP_MAX] if weight[i] >= KEEP_FROM]
    share = np.array([weight[i] for i in order])
    counts = np.maximum(np.round(count * share / share.sum()).astype(int), 1)
    tirs, mean = [], np.zeros(PLACES)
    for i, drawn in zip(order, counts, strict=True):
        one, own = found[i], here.prior(found[i])
        cross = np.linalg.solve(one.root, np.concatenate([own, across.prior(one)], axis=1))
        at, between = cross[:, : own.shape[1]], cross[:, own.shape[1] :]
        mean_there = at.T @ one.white
        tir = np.ptp(mean_there + _deviations(own - at.T @ at, rng, int(drawn)), axis=1)
        tir = np.minimum(tir, data.range_mm)
        tirs += [tir, np.maximum(tir - _excess(tir, mean_there), 0.0)]
        middle = between.T @ one.white
        if data.gap_deg > CLOSE_DEG:
            # Between readings such a surface may swing further than any of them, or may not: half and half.
            own = there.prior(one) - between.T @ between
            tirs.append(np.ptp(middle + _deviations(own, rng, int(drawn)), axis=1))
        mean += middle * drawn / counts.sum()
    return Rough(np.concatenate(tirs), mean)


def _explanations(data: Traced, here: _Apart) -> list[_Explained]:
    """All that are weighed: rough surfaces of each length and size, then noise that runs on."""
    rest = (data.nuisance * data.prior_mm**2) @ data.nuisance.T + here.low
    rest[np.diag_indices_from(rest)] += data.noise_mm**2 / data.copies + JITTER
    found: list[_Explained] = []
    for length in LENGTHS_DEG:
        shape = _matern(here.chord_deg, length)
        found += [_explained(rest + size**2 * shape, data.value_mm, size, length, False) for size in SIZES_MM]
    smooth = rest + SMOOTH_MM**2 * _matern(here.chord_deg, SMOOTH_DEG)
    for memory in MEMORIES:
        # By the readings' order, as their groups are: by time, a pause without readings or times that are
        # wrong would tie groups closer than a mean of so many can be, and such a covariance is none.
        lag = np.abs(data.order[:, None] - data.order) / memory
        creep = np.exp(-lag)
        own = data.copies / memory
        creep[np.diag_indices_from(creep)] = 2 / own * (1 - (1 - np.exp(-own)) / own)
        found += [
            _explained(smooth + size**2 * creep, data.value_mm, SMOOTH_MM, SMOOTH_DEG, True)
            for size in CREEPS_MM
        ]
    return found


def _excess(tir: F64, mean: F64) -> float:
    """By how much draws of a surface with many heights alike overstate its range, in mm.

    The highest of many readings of one level is the luckiest. The mean surface has the readings' noise in
    it once, a draw twice, so that its range is beyond the true one by root 2 times as much: extrapolated
    to no noise at all (as in simulation extrapolation; Cook and Stefanski 1994, from memory).
    """
    once = max(float(np.median(tir)) - float(np.ptp(mean)), 0.0)
    return once * (1.0 + 1.0 / (2**0.5 - 1.0))


@dataclass(frozen=True, slots=True)
class _Explained:
    """factor: Cholesky's of the readings' covariance, with the values as one more row, (g + 1, g + 1)."""

    log_evidence: float
    size_mm: float
    length_deg: float
    factor: F64
    is_noise: bool

    @property
    def root(self) -> F64:
        """The factor of the covariance alone, shape (g, g)."""
        return self.factor[:-1, :-1]

    @property
    def white(self) -> F64:
        """It solved for the values, shape (g,)."""
        return self.factor[-1, :-1]


def _explained(covariance: F64, value: F64, size: float, length: float, is_noise: bool) -> _Explained:
    # The values as one more row: its part of the factor is the factor solved for them, for nothing.
    g = value.size
    bordered = np.empty((g + 1, g + 1))
    bordered[:g, :g] = covariance
    bordered[g, :g] = bordered[:g, g] = value
    bordered[g, g] = 1e12
    factor = np.asarray(np.linalg.cholesky(bordered), np.float64)
    white = factor[g, :g]
    evidence = float(-0.5 * white @ white - np.log(np.diagonal(factor)[:g]).sum())
    return _Explained(evidence, size, length, factor, is_noise)


def _deviations(own: F64, rng: np.random.Generator, count: int) -> F64:
    """Draws of this covariance (k, k) about their mean, shape (count, k). By Cholesky's factor, of which
    there is but one: eigenvectors are another processor's to turn."""
    own[np.diag_indices_from(own)] += ROUNDED_MM2
    return np.asarray(rng.standard_normal((count, own.shape[0])) @ np.linalg.cholesky(own).T)


def _waves(angle_deg: F64, low_mm: F64) -> F64:
    """The lowest orders at these angles, each as large as it is expected, shape (k, 2 orders): products of
    two such are their covariance."""
    turn = np.deg2rad(angle_deg)[:, None] * np.arange(1, low_mm.size + 1)
    return np.concatenate([np.cos(turn) * low_mm, np.sin(turn) * low_mm], axis=1)


def _chord_deg(off_rad: F64) -> F64:
    """Distance straight through the circle, in degrees of arc: a kernel of it stays one around the turn."""
    return np.asarray(np.abs(np.sin(0.5 * off_rad)) * np.rad2deg(2.0))


def _matern(distance: F64, length: float) -> F64:
    """Matern's covariance of order 3/2, 1 at no distance."""
    scaled = distance * (3.0**0.5 / length)
    return np.asarray((1.0 + scaled) * np.exp(-scaled))
