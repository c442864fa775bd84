"""Normal equations of harmonics under many spectra, in a form in which each is solved at little cost.

A spectrum's prior and the readings are brought into diagonal form together (generalised eigenvectors; Golub
and Van Loan 2013, Matrix computations, 8.7, from memory), once, as only the size of both changes after. What
is no harmonic, or has a prior of its own, couples these modes: few columns, by Schur's complement.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from grading.evidence import F64

# What a column that a spectrum does not have may move by, in mm: nothing that counts, and still a number.
STILL_MM = 1e-20


@dataclass(frozen=True, slots=True)
class Normal:
    """Normal equations: gram (p, p), right (p,), squares: weighted sums; count: readings."""

    gram: F64
    right: F64
    squares: float
    count: float


@dataclass(frozen=True, slots=True)
class Modes:
    """The waves beyond the eccentricity, put together anew for each of S spectra so that neither the readings
    nor the prior couple them (generalised eigenvectors): turn (S, R, R), what each is of the columns, scaled
    to a prior standard deviation of A; told (S, R), its own square in the normal equations."""

    turn: F64
    told: F64

    def only(self, rows: NDArray[np.intp]) -> Modes:
        """Of these spectra."""
        return Modes(self.turn[rows], self.told[rows])


def modes_of(gram: F64, shape: F64) -> Modes:
    """Of spectra without holes, shape (S, R), over columns with these normal equations (R, R)."""
    turn, told = np.zeros((*shape.shape, shape.shape[1])), np.zeros(shape.shape)
    ends = np.count_nonzero(shape, axis=1)
    for end in np.unique(ends[ends > 0]):
        rows = np.flatnonzero(ends == end)
        own = shape[rows, :end, None]
        square, vectors = np.linalg.eigh(gram[:end, :end] * own * own.transpose(0, 2, 1))
        told[rows, :end] = np.maximum(square, 0.0)
        turn[rows, :end, :end] = own * vectors
    return Modes(turn, told)


@dataclass(frozen=True, slots=True)
class Reduced:
    """The normal equations with their prior, the modes put into those of the leading columns (Schur's
    complement): system (S, f, f) and right (S, f) of these. pull (S,): of the modes' prior; share (S, R):
    inverse of a mode's own equation; shared (S, f, R): what of each mode a leading column takes."""

    system: F64
    right: F64
    pull: F64
    share: F64
    shared: F64

    def inverse(self) -> F64:
        """Of the system, (S, f, f)."""
        return np.asarray(np.linalg.inv(self.system), np.float64)


@dataclass(frozen=True, slots=True)
class Parts:
    """The normal equations of S spectra by their modes, which only the leading columns couple.

    gram (f, f), right (f,), stiff (f,): of the leading columns, and their prior's inverse variance.
    cross (S, f, R), heard (S, R), told (S, R): of the modes with these, with the values, with themselves.
    """

    gram: F64
    right: F64
    stiff: F64
    cross: F64
    heard: F64
    told: F64
    squares: float
    count: float

    @staticmethod
    def of(normal: Normal, modes: Modes, prior: F64) -> Parts:
        """prior: standard deviations of all columns, any shape (…, p), the leading ones alike throughout."""
        f = normal.right.size - modes.told.shape[1]
        fixed = np.maximum(prior.reshape(-1, prior.shape[-1])[0, :f], STILL_MM)
        turned = np.concatenate([normal.gram[:f, f:], normal.right[None, f:]]) @ modes.turn
        return Parts(
            normal.gram[:f, :f],
            normal.right[:f],
            fixed**-2.0,
            turned[:, :f],
            turned[:, f],
            modes.told,
            normal.squares,
            normal.count,
        )

    def only(self, rows: NDArray[np.bool_]) -> Parts:
        """Of these spectra."""
        return replace(self, cross=self.cross[rows], heard=self.heard[rows], told=self.told[rows])

    def reduced(self, amplitude: F64, variance: F64) -> Reduced:
        """At this A and variance of the noise, (S,) each."""
        pull = variance / amplitude**2
        share = np.asarray(1.0 / (self.told + pull[:, None]))
        shared = self.cross * share[:, None, :]
        system = self.gram - shared @ self.cross.transpose(0, 2, 1)
        f = self.right.size
        system.reshape(-1, f * f)[:, :: f + 1] += variance[:, None] * self.stiff
        return Reduced(system, self.right - times(shared, self.heard), pull, share, shared)

    def modes(self, at: Reduced, mean: F64) -> F64:
        """Their mean (S, R), by that of the leading columns (S, f)."""
        return np.asarray(at.share * self.heard - (mean[:, None, :] @ at.shared)[:, 0])

    def evidence(self, amplitude: F64, noise: F64) -> F64:
        """Log evidence (S,), up to a constant of the readings."""
        variance = noise**2
        at = self.reduced(amplitude, variance)
        # The right side as one more row: its part of the factor is the factor solved for it, for nothing.
        s, f = at.right.shape
        bordered = np.empty((s, f + 1, f + 1))
        bordered[:, :f, :f] = at.system
        bordered[:, f, :f] = bordered[:, :f, f] = at.right
        bordered[:, f, f] = 2.0 * self.squares + 1.0
        try:
            factor = np.linalg.cholesky(bordered)
            log_det = 2.0 * np.log(np.diagonal(factor, axis1=1, axis2=2)[:, :f]).sum(axis=1)
            explained = (factor[:, f, :f] ** 2).sum(axis=1)
        except np.linalg.LinAlgError:
            # Columns so alike that what a prior keeps apart is rounded off.
            log_det = np.linalg.slogdet(at.system)[1]
            explained = (at.right * times(at.inverse(), at.right)).sum(axis=1)
        explained += (at.share * self.heard**2).sum(axis=1)
        # Over the determinant of the prior alone.
        log_det += np.log1p(self.told / at.pull[:, None]).sum(axis=1)
        log_det -= np.log(variance[:, None] * self.stiff).sum(axis=1)
        misfit = (self.squares - explained) / variance
        return np.asarray(-0.5 * (self.count * np.log(variance) + log_det + misfit))


def times(form: F64, vector: F64) -> F64:
    """Products (S, m) of matrices (S, m, n) and vectors (S, n)."""
    return np.asarray((form @ vector[:, :, None])[:, :, 0])
