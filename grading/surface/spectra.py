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
from grading.surface.modes import STILL_MM, Modes, Normal, Parts, modes_of, times

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
# Spectra whose length differs by less than this factor are searched together.
BAND = 0.75


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
class Fits:
    """For each of S spectra: prior standard deviations (S, p), noise (S,), evidence (S,) (log), effective
    degrees of freedom (S,), amplitude A in mm (S,). normal: what they were fitted to."""

    normal: Normal
    modes: Modes
    prior: F64
    noise: F64
    evidence: F64
    freedom: F64
    amplitude: F64

    def only(self, rows: NDArray[np.intp]) -> Fits:
        """These spectra."""
        return Fits(
            self.normal,
            self.modes.only(rows),
            self.prior[rows],
            self.noise[rows],
            self.evidence[rows],
            self.freedom[rows],
            self.amplitude[rows],
        )

    def without_first(self) -> Fits:
        """The noise and amplitudes that were found with the first column, without that column."""
        whole, prior = self.normal, self.prior[:, 1:]
        plain = Normal(whole.gram[1:, 1:], whole.right[1:], whole.squares, whole.count)
        parts = Parts.of(plain, self.modes, prior)
        evidence = parts.evidence(self.amplitude, self.noise)
        return Fits(plain, self.modes, prior, self.noise, evidence, self.freedom, self.amplitude)

    def posterior(self, rows: Sequence[int] | NDArray[np.intp]) -> tuple[F64, F64]:
        """Mean (R, p) and covariance (R, p, p) of the coefficients under these spectra."""
        rows = np.asarray(rows, dtype=np.intp)
        modes, variance = self.modes.only(rows), self.noise[rows] ** 2
        parts = Parts.of(self.normal, modes, self.prior)
        at = parts.reduced(self.amplitude[rows], variance)
        inverse, back = at.inverse(), modes.turn.transpose(0, 2, 1)
        leading = times(inverse, at.right)
        mean = np.concatenate([leading, times(modes.turn, parts.modes(at, leading))], axis=1)
        covariance = np.empty((*mean.shape, mean.shape[1]))
        f, taken = leading.shape[1], at.shared @ back
        covariance[:, :f, :f] = inverse
        covariance[:, :f, f:] = side = -inverse @ taken
        covariance[:, f:, :f] = side.transpose(0, 2, 1)
        covariance[:, f:, f:] = (modes.turn * at.share[:, None, :]) @ back - taken.transpose(0, 2, 1) @ side
        covariance *= variance[:, None, None]
        return mean, covariance

    def widest(self, rows: Sequence[int] | NDArray[np.intp]) -> F64:
        """Inverse of the normal equations (p, p) with the widest prior of any of these spectra: the noise's
        variance times that is no less than the covariance of any."""
        stiff = (self.noise[rows, None] / np.maximum(self.prior[rows], STILL_MM)) ** 2
        return np.asarray(np.linalg.inv(self.normal.gram + np.diag(stiff.min(axis=0))))


def fit(normal: Normal, family: Spectra, fixed: F64, start: Noise, warm: Fits | None = None) -> Fits:
    """All spectra fitted. fixed: prior standard deviations of the leading columns that are no
    harmonics, shape (f,). warm: fits of the same family to the same readings to begin from, with the same
    columns but for leading ones, which halves the rounds."""
    s = family.shape.shape[0]
    fixed = np.append(fixed, (ECCENTRICITY_MM, ECCENTRICITY_MM))
    shape = family.shape[:, 2:]
    modes = modes_of(normal.gram[fixed.size :, fixed.size :], shape) if warm is None else warm.modes
    amplitude = np.full(s, AMPLITUDE_START_MM) if warm is None else warm.amplitude.copy()
    noise = np.full(s, start.start_mm) if warm is None else warm.noise.copy()
    parts = Parts.of(normal, modes, fixed)
    together = _together(tuple((fixed.size + np.count_nonzero(shape, axis=1)).tolist()))
    freedom = _search(parts, together, start, amplitude, noise, ROUNDS if warm is None else ROUNDS_WARM)
    prior = np.concatenate([np.tile(fixed, (s, 1)), amplitude[:, None] * shape], axis=1)
    return Fits(normal, modes, prior, noise, parts.evidence(amplitude, noise), freedom, amplitude)


def _search(
    parts: Parts, together: NDArray[np.intp], start: Noise, amplitude: F64, noise: F64, rounds: int
) -> F64:
    """Amplitude and noise, shape (S,), moved to the evidence's fixed point; their degrees of freedom.
    together: shape (S,), a number that is the same for those that go on until all of them are settled."""
    freedom, rows = np.empty(noise.size), np.arange(noise.size)
    free = np.count_nonzero(parts.told, axis=1) > 0
    for _ in range(rounds):
        was, were = amplitude[rows], noise[rows]
        variance = were * were
        at = parts.reduced(was, variance)
        inverse = at.inverse()
        mean = times(inverse, at.right)
        modes = parts.modes(at, mean)
        # The mean's squares in units of the prior, times the noise's variance.
        held = at.pull * (modes**2).sum(axis=1)
        known = (parts.told * at.share).sum(axis=1)
        known -= at.pull * ((inverse @ at.shared) * at.shared).sum(axis=(1, 2))
        ratio = held / (variance * np.maximum(known, 0.3))
        grown = np.minimum(np.maximum(was * np.sqrt(ratio), AMPLITUDE_MM[0]), AMPLITUDE_MM[1])
        amplitude[rows] = np.where(free[rows], grown, was)
        stiff = variance[:, None] * parts.stiff
        known += (1.0 - stiff * np.diagonal(inverse, axis1=1, axis2=2)).sum(axis=1)
        freedom[rows] = np.maximum(parts.count - known, 1.0)
        if not start.known:
            # What the gram matrix makes of the mean, its normal equations say.
            explained = mean @ parts.right + (modes * parts.heard).sum(axis=1)
            rss = parts.squares - explained - held - (stiff * mean**2).sum(axis=1)
            found = np.sqrt((np.maximum(rss, 0.0) + 2 * start.start_mm**2) / (freedom[rows] + 2))
            noise[rows] = np.maximum(found, start.floor_mm)
        moved = np.maximum(np.abs(amplitude[rows] / was - 1.0), np.abs(noise[rows] / were - 1.0))
        going = np.zeros(noise.size, dtype=bool)
        going[together[rows[moved >= SETTLED]]] = True
        moving = going[together[rows]]
        if not moving.any():
            break
        if not moving.all():
            rows, parts = rows[moving], parts.only(moving)
    # The two readings that the start is worth count as freedom too.
    return freedom + 2


@lru_cache(maxsize=256)
def _together(ends: tuple[int, ...]) -> NDArray[np.intp]:
    """A number for each spectrum of these lengths, the same for those of about the same."""
    each, numbers = np.array(ends), np.full(len(ends), -1)
    while (left := numbers < 0).any():
        numbers[left & (each > BAND * each[left].max())] = numbers.max() + 1
    return numbers
