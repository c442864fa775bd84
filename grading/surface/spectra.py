"""Which harmonics a surface has: linear Gaussian fits under a family of spectra, weighed by evidence.

A spectrum says how large each order is expected to be: order k up to H has the standard deviation
A / k^p, higher ones fall off. For each (H, p) of a grid the amplitude A and the noise are found by the
fixed point of the evidence (type-II maximum likelihood; MacKay 1992, Bayesian interpolation), and the
evidence itself weighs the spectra against each other, so that the order is chosen by the data and the
doubt about it stays in the result.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray

from grading.evidence import F64

# Orders at which a spectrum may end, and how steeply it may fall.
ORDERS = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 14, 17, 20, 25, 30)
SLOPES = (0.6, 1.3, 2.0)
# Standard deviation expected of the eccentricity's components, in mm: wide, so that it is left alone.
ECCENTRICITY_MM = 0.2
# Bounds of the amplitude A, in mm.
AMPLITUDE_MM = (2e-5, 0.5)
AMPLITUDE_START_MM = 0.02
# Orders expected below this share of A / H^p beyond H are left out.
NOTHING = 0.02
# Rounds of the fixed point from the start, and from a fit of nearly the same.
ROUNDS, ROUNDS_WARM = 6, 3
# Nor does it go on where it moves by less than this share: each round moves a tenth of the one before.
SETTLED = 1e-4
# Spectra whose length differs by less than this factor are solved at one length.
BAND = 0.75
# What a column that a spectrum does not have may move by, in mm: nothing that counts, and still a number.
STILL_MM = 1e-20

Band = tuple[NDArray[np.intp], int]
"""Rows, and the column at which the longest of them ends."""


@dataclass(frozen=True, slots=True)
class Spectra:
    """A family of S spectra over columns in the order of `harmonics.columns`.

    shape: (S, 2 K) standard deviations in units of A; order 1 is zero there and has a fixed one.
    """

    shape: F64

    @property
    def orders(self) -> int:
        """K, the highest order of any."""
        return int(self.shape.shape[1]) // 2

    def only(self, rows: NDArray[np.intp]) -> Spectra:
        """These of the family; the columns stay as they are."""
        return Spectra(self.shape[rows])


@cache
def spectra(orders_max: int, *, spread: float) -> Spectra:
    """The family up to `orders_max`; spread: relative width of the fall-off beyond H (an angle that
    runs on unevenly smears order k over k (1 +- spread))."""
    ends = [h for h in ORDERS if h <= orders_max] or [1]
    top = min(orders_max, round(ends[-1] * (1 + 3 * spread)))
    k = np.arange(1, top + 1, dtype=float)
    rows = []
    for h in ends:
        for p in SLOPES if h > 2 else SLOPES[1:2]:
            beyond = np.exp(-0.5 * ((k - h) / (spread * h)) ** 2) if spread > 0 else np.zeros_like(k)
            rows.append(np.where(k <= h, k**-p, h**-p * np.where(beyond > NOTHING, beyond, 0.0)))
    shape = np.repeat(np.array(rows), 2, axis=1)
    shape[:, :2] = 0.0
    shape.flags.writeable = False
    return Spectra(shape)


@dataclass(frozen=True, slots=True)
class Noise:
    """start_mm: where its search begins, worth two readings. known: it stays there. floor_mm: least."""

    start_mm: float
    known: bool = False
    floor_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Normal:
    """Normal equations: gram (p, p), right (p,), squares: weighted sums; count: readings."""

    gram: F64
    right: F64
    squares: float
    count: float


@dataclass(frozen=True, slots=True)
class Fits:
    """For each of S spectra: prior standard deviations (S, p), noise (S,), evidence (S,) (log), effective
    degrees of freedom (S,), amplitude A in mm (S,). normal: what they were fitted to."""

    normal: Normal
    prior: F64
    noise: F64
    evidence: F64
    freedom: F64
    amplitude: F64

    def only(self, rows: NDArray[np.intp]) -> Fits:
        """These spectra."""
        return Fits(
            self.normal,
            self.prior[rows],
            self.noise[rows],
            self.evidence[rows],
            self.freedom[rows],
            self.amplitude[rows],
        )

    def posterior(self, rows: Sequence[int] | NDArray[np.intp]) -> tuple[F64, F64]:
        """Mean (R, p) and covariance (R, p, p) of the coefficients under these spectra."""
        return posterior(self.normal, self.prior[rows], self.noise[rows])

    def widest(self, rows: Sequence[int] | NDArray[np.intp]) -> F64:
        """Inverse of the normal equations (p, p) with the widest prior of any of these spectra: the noise's
        variance times that is no less than the covariance of any."""
        stiff = _stiffness(self.prior[rows], self.noise[rows]).min(axis=0, keepdims=True)
        return np.asarray(np.linalg.inv(_system(self.normal.gram, stiff))[0])


def posterior(normal: Normal, prior: F64, noise: F64) -> tuple[F64, F64]:
    """Mean (S, p) and covariance (S, p, p) at given prior standard deviations (S, p) and noise (S,)."""
    s, p = prior.shape
    mean, covariance = np.zeros((s, p)), np.zeros((s, p, p))
    for rows, width in _bands(prior):
        own, variance = prior[rows, :width], noise[rows] ** 2
        inverse = np.linalg.inv(_system(normal.gram[:width, :width], _stiffness(own, noise[rows])))
        used = own > 0
        if not used.all():
            inverse *= used[:, :, None]
            inverse *= used[:, None, :]
        mean[rows, :width] = inverse @ normal.right[:width]
        inverse *= variance[:, None, None]
        covariance[rows, :width, :width] = inverse
    return mean, covariance


def log_evidence(normal: Normal, prior: F64, noise: F64, bands: Sequence[Band] | None = None) -> F64:
    """Log evidence (S,) at given prior standard deviations (S, p) and noise (S,), up to a constant of the
    readings. bands: of the prior, where they are known."""
    evidence = np.empty(noise.size)
    for rows, width in _bands(prior) if bands is None else bands:
        stiff, right = _stiffness(prior[rows, :width], noise[rows]), normal.right[:width]
        # The right side as one more row: its part of the factor is the factor solved for it, for nothing.
        bordered = np.empty((rows.size, width + 1, width + 1))
        bordered[:, :width, :width] = _system(normal.gram[:width, :width], stiff)
        bordered[:, width, :width] = bordered[:, :width, width] = right
        bordered[:, width, width] = 2.0 * normal.squares + 1.0
        try:
            factor = np.linalg.cholesky(bordered)
            log_det = 2.0 * np.log(np.diagonal(factor, axis1=1, axis2=2)[:, :width]).sum(axis=1)
            explained = (factor[:, width, :width] ** 2).sum(axis=1)
        except np.linalg.LinAlgError:
            # Columns so alike that what a prior keeps apart is rounded off.
            system = bordered[:, :width, :width]
            log_det, explained = np.linalg.slogdet(system)[1], np.linalg.inv(system) @ right @ right
        log_det -= np.log(stiff).sum(axis=1)
        variance = noise[rows] ** 2
        misfit = (normal.squares - explained) / variance
        evidence[rows] = -0.5 * (normal.count * np.log(variance) + log_det + misfit)
    return evidence


def fit(normal: Normal, family: Spectra, fixed: F64, start: Noise, warm: Fits | None = None) -> Fits:
    """All spectra fitted. fixed: prior standard deviations of the leading columns that are no
    harmonics, shape (f,). warm: fits of the same family to begin from, which halves the rounds."""
    s = family.shape.shape[0]
    first = np.where(np.arange(2 * family.orders) < 2, ECCENTRICITY_MM, 0.0)
    amplitude = np.full(s, AMPLITUDE_START_MM) if warm is None else warm.amplitude.copy()
    noise = np.full(s, start.start_mm) if warm is None else warm.noise.copy()
    freedom = np.empty(s)
    bands = _alike(tuple((fixed.size + _ends(first + family.shape)).tolist()))
    for rows, width in bands:
        part = Normal(normal.gram[:width, :width], normal.right[:width], normal.squares, normal.count)
        shape = family.shape[rows, : width - fixed.size]
        amplitude[rows], noise[rows], freedom[rows] = _search(
            part,
            shape,
            np.concatenate([fixed, first[: width - fixed.size]]),
            start,
            amplitude[rows],
            noise[rows],
            ROUNDS if warm is None else ROUNDS_WARM,
        )
    prior = np.concatenate([np.tile(fixed, (s, 1)), first + amplitude[:, None] * family.shape], axis=1)
    evidence = log_evidence(normal, prior, noise, bands)
    return Fits(normal, prior, noise, evidence, freedom, amplitude)


def _search(
    normal: Normal, shape: F64, fixed: F64, start: Noise, amplitude: F64, noise: F64, rounds: int
) -> tuple[F64, F64, F64]:
    """Amplitude, noise and degrees of freedom, shape (S,), at the evidence's fixed point."""
    s, p = shape.shape[0], fixed.size
    # The columns of the spectrum itself, after those of a fixed prior, the eccentricity's among them.
    free = slice(p - shape.shape[1] + 2, None)
    unit = np.tile(fixed, (s, 1))
    unit[:, free] = shape[:, 2:]
    unit = np.maximum(unit, STILL_MM) ** -2.0
    with_free = shape.any(axis=1)
    for _ in range(rounds):
        was = amplitude, noise
        variance = noise * noise
        stiff = unit * variance[:, None]
        stiff[:, free] /= (amplitude * amplitude)[:, None]
        inverse = np.linalg.inv(_system(normal.gram, stiff))
        mean = inverse @ normal.right
        known = 1.0 - stiff * inverse.reshape(s, p * p)[:, :: p + 1]
        # The mean's squares in units of the prior, times the noise's variance.
        held = stiff * mean * mean
        group = np.maximum(known[:, free].sum(axis=1), 0.3)
        ratio = held[:, free].sum(axis=1) / (variance * group)
        grown = np.minimum(np.maximum(amplitude * np.sqrt(ratio), AMPLITUDE_MM[0]), AMPLITUDE_MM[1])
        amplitude = np.where(with_free, grown, amplitude)
        freedom = np.maximum(normal.count - known.sum(axis=1), 1.0)
        if not start.known:
            # What the gram matrix makes of the mean, its normal equations say.
            rss = normal.squares - mean @ normal.right - held.sum(axis=1)
            noise = np.sqrt((np.maximum(rss, 0.0) + 2 * start.start_mm**2) / (freedom + 2))
            noise = np.maximum(noise, start.floor_mm)
        if all((np.abs(x - y) / y).max() < SETTLED for x, y in zip((amplitude, noise), was, strict=True)):
            break
    # The two readings that the start is worth count as freedom too.
    return amplitude, noise, freedom + 2


def _stiffness(prior: F64, noise: F64) -> F64:
    """What each column's prior adds to its normal equation, shape (S, p)."""
    return np.asarray((noise[:, None] / np.maximum(prior, STILL_MM)) ** 2)


def _system(gram: F64, stiff: F64) -> F64:
    """The normal equations with their prior, (S, p, p)."""
    rows, width = stiff.shape
    system = np.empty((rows, width, width))
    system[:] = gram
    system.reshape(rows, width * width)[:, :: width + 1] += stiff
    return system


def _bands(prior: F64) -> tuple[Band, ...]:
    """Rows that end at about the same column, with that column: short spectra need no long systems."""
    return _alike(tuple(_ends(prior).tolist()))


def _ends(prior: F64) -> NDArray[np.intp]:
    """The column after the last that each row has, shape (S,)."""
    return np.asarray(prior.shape[1] - np.argmax(prior[:, ::-1] > 0, axis=1))


@lru_cache(maxsize=256)
def _alike(each: tuple[int, ...]) -> tuple[Band, ...]:
    ends = np.array(each)
    found = []
    left = np.ones(ends.size, dtype=bool)
    while left.any():
        width = int(ends[left].max())
        rows = left & (ends > BAND * width)
        found.append((np.flatnonzero(rows), width))
        left &= ~rows
    return tuple(found)
