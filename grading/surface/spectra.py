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
    """For each of S spectra: prior standard deviations (S, p), noise (S,), evidence (S,) (log),
    mean (S, p) and covariance (S, p, p) of the coefficients, effective degrees of freedom (S,),
    amplitude A in mm (S,)."""

    prior: F64
    noise: F64
    evidence: F64
    mean: F64
    covariance: F64
    freedom: F64
    amplitude: F64

    def only(self, rows: NDArray[np.intp]) -> Fits:
        """These spectra."""
        return Fits(
            self.prior[rows],
            self.noise[rows],
            self.evidence[rows],
            self.mean[rows],
            self.covariance[rows],
            self.freedom[rows],
            self.amplitude[rows],
        )


def solve(
    normal: Normal, prior: F64, noise: F64, bands: Sequence[Band] | None = None
) -> tuple[F64, F64, F64]:
    """Posterior mean (S, p), covariance (S, p, p) and log evidence (S,) at given prior standard
    deviations (S, p) and noise (S,). bands: of the prior, where they are known."""
    s, p = prior.shape
    mean, covariance, evidence = np.zeros((s, p)), np.zeros((s, p, p)), np.empty(s)
    for rows, width in _bands(prior) if bands is None else bands:
        own, sigma = prior[rows, :width], noise[rows]
        system = _system(normal, own, sigma)
        inner = np.linalg.inv(system)
        right = own * normal.right[:width]
        found = own * np.matmul(inner, right[:, :, None])[:, :, 0] / sigma[:, None] ** 2
        inner *= own[:, :, None]
        inner *= own[:, None, :]
        mean[rows, :width], covariance[rows, :width, :width] = found, inner
        misfit = (normal.squares - found @ normal.right[:width]) / sigma**2
        log_det = np.linalg.slogdet(system)[1]
        evidence[rows] = -0.5 * (normal.count * np.log(sigma**2) + log_det + misfit)
    return mean, covariance, evidence


def fit(normal: Normal, family: Spectra, fixed: F64, start: Noise, warm: Fits | None = None) -> Fits:
    """All spectra fitted. fixed: prior standard deviations of the leading columns that are no
    harmonics, shape (f,). warm: fits of the same family to begin from, which halves the rounds."""
    s = family.shape.shape[0]
    first = np.where(np.arange(2 * family.orders) < 2, ECCENTRICITY_MM, 0.0)
    amplitude = np.full(s, AMPLITUDE_START_MM) if warm is None else warm.amplitude.copy()
    noise = np.full(s, start.start_mm) if warm is None else warm.noise.copy()
    freedom = np.empty(s)
    bands = _bands(np.concatenate([np.ones((s, fixed.size)), first + family.shape], axis=1))
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
    mean, covariance, evidence = solve(normal, prior, noise, bands)
    return Fits(prior, noise, evidence, mean, covariance, freedom, amplitude)


def _search(
    normal: Normal, shape: F64, fixed: F64, start: Noise, amplitude: F64, noise: F64, rounds: int
) -> tuple[F64, F64, F64]:
    """Amplitude, noise and degrees of freedom, shape (S,), at the evidence's fixed point."""
    s, p = shape.shape[0], fixed.size
    diagonal = slice(None, None, p + 1)
    size = np.zeros((s, p))
    size[:, p - shape.shape[1] :] = shape
    free = (size > 0).astype(float)
    with_free = free.any(axis=1)
    known = np.zeros_like(free)
    for _ in range(rounds):
        was = amplitude, noise
        prior = fixed + amplitude[:, None] * size
        inverse = np.linalg.inv(_system(normal, prior, noise))
        right = prior * normal.right
        z = np.matmul(inverse, (right / noise[:, None] ** 2)[:, :, None])[:, :, 0]
        known = 1.0 - inverse.reshape(s, p * p)[:, diagonal]
        group = np.maximum(np.einsum("sp,sp->s", known, free), 0.3)
        ratio = np.einsum("sp,sp,sp->s", z, z, free) / group
        grown = np.minimum(np.maximum(amplitude * np.sqrt(ratio), AMPLITUDE_MM[0]), AMPLITUDE_MM[1])
        amplitude = np.where(with_free, grown, amplitude)
        if not start.known:
            # Of the mean, prior times z: its normal equations say what the gram matrix makes of it.
            explained = np.einsum("sp,sp->s", z, right + noise[:, None] ** 2 * z)
            rss = normal.squares - explained
            left = np.maximum(normal.count - known.sum(axis=1), 1.0)
            noise = np.sqrt((np.maximum(rss, 0.0) + 2 * start.start_mm**2) / (left + 2))
            noise = np.maximum(noise, start.floor_mm)
        if all(np.max(np.abs(x - y) / y) < SETTLED for x, y in zip((amplitude, noise), was, strict=True)):
            break
    # The two readings that the start is worth count as freedom too.
    return amplitude, noise, np.maximum(normal.count - known.sum(axis=1), 1.0) + 2


def _system(normal: Normal, prior: F64, noise: F64) -> F64:
    """Unit matrix plus the normal equations in units of the prior, (S, w, w) for prior (S, w)."""
    rows, width = prior.shape
    scaled = prior / noise[:, None]
    system = scaled[:, :, None] * normal.gram[:width, :width]
    system *= scaled[:, None, :]
    system.reshape(rows, width * width)[:, :: width + 1] += 1.0
    return system


def _bands(prior: F64) -> list[Band]:
    """Rows that end at about the same column, with that column: short spectra need no long systems."""
    ends = prior.shape[1] - np.argmax(prior[:, ::-1] > 0, axis=1)
    found = []
    left = np.ones(ends.size, dtype=bool)
    while left.any():
        width = int(ends[left].max())
        rows = left & (ends > BAND * width)
        found.append((np.flatnonzero(rows), width))
        left &= ~rows
    return found
