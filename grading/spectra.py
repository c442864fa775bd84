"""Which harmonics a surface has: linear Gaussian fits under a family of spectra, weighed by evidence.

A spectrum says how large each order is expected to be: order k up to H has the standard deviation
A / k^p, higher ones fall off. For each (H, p) of a grid the amplitude A and the noise are found by the
fixed point of the evidence (type-II maximum likelihood; MacKay 1992, Bayesian interpolation), and the
evidence itself weighs the spectra against each other, so that the order is chosen by the data and the
doubt about it stays in the result.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from grading.evidence import F64

# Orders at which a spectrum may end, and how steeply it may fall.
ORDERS = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 14, 17, 20, 25, 30)
SLOPES = (0.6, 1.3, 2.0)
# Standard deviation expected of the eccentricity's components, in mm: wide, so that it is left alone.
ECCENTRICITY_MM = 0.2
# Bounds of the amplitude A, in mm.
AMPLITUDE_MM = (2e-5, 0.5)
ROUNDS = 7


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
            rows.append(np.where(k <= h, k**-p, h**-p * beyond))
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
    mean (S, p) and covariance (S, p, p) of the coefficients, effective degrees of freedom (S,)."""

    prior: F64
    noise: F64
    evidence: F64
    mean: F64
    covariance: F64
    freedom: F64


def solve(normal: Normal, prior: F64, noise: F64) -> tuple[F64, F64, F64]:
    """Posterior mean (S, p), covariance (S, p, p) and log evidence (S,) at given prior standard
    deviations (S, p) and noise (S,)."""
    p = normal.gram.shape[0]
    scaled = prior / noise[:, None]
    system = scaled[:, :, None] * normal.gram * scaled[:, None, :]
    system[:, np.arange(p), np.arange(p)] += 1.0
    inverse = np.linalg.inv(system)
    covariance = prior[:, :, None] * inverse * prior[:, None, :]
    mean = covariance @ normal.right / noise[:, None] ** 2
    log_det = np.linalg.slogdet(system)[1]
    misfit = (normal.squares - mean @ normal.right) / noise**2
    return mean, covariance, -0.5 * (normal.count * np.log(noise**2) + log_det + misfit)


def fit(
    normal: Normal,
    family: Spectra,
    fixed: F64,
    start: Noise,
) -> Fits:
    """All spectra fitted. fixed: prior standard deviations of the leading columns that are no
    harmonics, shape (f,)."""
    s = family.shape.shape[0]
    f = fixed.size
    first = np.where(np.arange(2 * family.orders) < 2, ECCENTRICITY_MM, 0.0)
    amplitude = np.full(s, 0.02)
    noise = np.full(s, start.start_mm)
    free = (family.shape > 0).astype(float)
    with_free = free.any(axis=1)
    p = f + 2 * family.orders
    diagonal = np.arange(p)
    prior = np.empty((s, p))
    prior[:, :f] = fixed
    for _ in range(ROUNDS):
        prior[:, f:] = first + amplitude[:, None] * family.shape
        scaled = prior / noise[:, None]
        system = scaled[:, :, None] * normal.gram * scaled[:, None, :]
        system[:, diagonal, diagonal] += 1.0
        inverse = np.linalg.inv(system)
        z = np.einsum("sij,sj->si", inverse, scaled * normal.right / noise[:, None])
        known = 1.0 - inverse[:, diagonal, diagonal]
        group = np.maximum((known[:, f:] * free).sum(axis=1), 0.3)
        ratio = (z[:, f:] ** 2 * free).sum(axis=1) / group
        grown = np.clip(amplitude * np.sqrt(ratio), *AMPLITUDE_MM)
        amplitude = np.where(with_free, grown, amplitude)
        if not start.known:
            mean = prior * z
            rss = normal.squares - 2 * mean @ normal.right + np.einsum("si,ij,sj->s", mean, normal.gram, mean)
            left = np.maximum(normal.count - known.sum(axis=1), 1.0)
            noise = np.sqrt((np.maximum(rss, 0.0) + 2 * start.start_mm**2) / (left + 2))
            noise = np.maximum(noise, start.floor_mm)
    prior[:, f:] = first + amplitude[:, None] * family.shape
    mean, covariance, evidence = solve(normal, prior, noise)
    # The fixed point's last view of what the readings settled is near enough for this.
    freedom = np.maximum(normal.count - known.sum(axis=1), 1.0) + 2
    return Fits(prior, noise, evidence, mean, covariance, freedom)
