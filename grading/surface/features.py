"""Dents and bulges narrower than 30 degrees, matched on what the harmonics leave.

A dictionary of raised cosines, pointed and flat ones, over position and width; each has a height expected
of a few scales.
With the harmonics' Gaussian posterior at hand, the evidence for any single one of them is closed
(the matched filter), so all positions and widths are weighed at once; those in gaps between readings
keep the weight that they had before, which is what a gap may hide.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from grading.evidence import F64
from grading.surface.observations import Observations

C128 = NDArray[np.complex128]

# Full widths at the foot, in degrees, of the pointed and of the flat ones, as (width, share of the width
# that is flat), and standard deviations expected of a height, in mm.
FORMS = (
    (2.0, 0.0),
    (2.8, 0.0),
    (4.0, 0.0),
    (5.5, 0.0),
    (7.5, 0.0),
    (10.0, 0.0),
    (13.0, 0.0),
    (17.0, 0.0),
    (5.5, 0.5),
    (8.0, 0.5),
    (11.5, 0.5),
)
HEIGHTS_MM = (0.004, 0.02, 0.1)
# Positions of the dictionary that covers the whole turn.
STEPS = 240
STEP_DEG = 360.0 / STEPS
# Readings are put into bins of this width for it, a whole fraction of a step, in degrees.
FINE = 3
# Range and spacing of the neighbours of one feature: degrees, and logarithm of the width.
NEAR_DEG, NEAR_STEP_DEG = 2.0, 0.2
NEAR_LOG, NEAR_STEP_LOG = 0.5, 0.125
# Of an entry's own square harmonics leave this share at the least; what is rounded off of it is far less than
# the other.
LEFT_LEAST, ROUNDING = 1e-9, 1e-6
# Log evidence, and shares of the likeliest, that are no further apart differ by rounding alone.
TIE = 1e-9
# So many entries are weighed at once as a processor's cache holds.
AT_ONCE = 600


@dataclass(frozen=True, slots=True)
class Dictionary:
    """middle_deg, width_deg, flat (share of the width that is flat): shape (d,)."""

    middle_deg: F64
    width_deg: F64
    flat: F64

    def at(self, entries: NDArray[np.intp] | NDArray[np.bool_]) -> Dictionary:
        """These entries."""
        return Dictionary(self.middle_deg[entries], self.width_deg[entries], self.flat[entries])


def joined(first: Dictionary, second: Dictionary) -> Dictionary:
    """One after the other."""
    return Dictionary(
        np.concatenate([first.middle_deg, second.middle_deg]),
        np.concatenate([first.width_deg, second.width_deg]),
        np.concatenate([first.flat, second.flat]),
    )


@cache
def everywhere() -> Dictionary:
    """All positions around the turn, all forms; the forms vary slowest."""
    forms = np.repeat(np.array(FORMS), STEPS, axis=0)
    return Dictionary(np.tile(STEP_DEG * np.arange(STEPS), len(FORMS)), forms[:, 0], forms[:, 1])


def around(middle_deg: float, width_deg: float) -> Dictionary:
    """Finely spaced neighbours of one feature, pointed and flat."""
    m = middle_deg + np.arange(-NEAR_DEG, NEAR_DEG + 1e-9, NEAR_STEP_DEG)
    w = width_deg * np.exp(np.arange(-NEAR_LOG, NEAR_LOG + 1e-9, NEAR_STEP_LOG))
    flat, middle, width = np.meshgrid(np.array([0.0, 0.5]), m, w, indexing="ij")
    return Dictionary(np.mod(middle.ravel(), 360.0), width.ravel(), flat.ravel())


def form(middle_deg: float, width_deg: float) -> Dictionary:
    """Narrower bumps over one feature and its foot, by which its form may depart from a raised cosine."""
    at = middle_deg + width_deg * np.arange(-0.75, 0.751, 0.25)
    return Dictionary(np.mod(at, 360.0), np.full(at.size, 0.5 * width_deg), np.zeros(at.size))


def single(place: tuple[float, float]) -> Dictionary:
    """One pointed entry."""
    return Dictionary(np.array([place[0]]), np.array([place[1]]), np.zeros(1))


def bumps(dictionary: Dictionary, angle_deg: F64) -> F64:
    """The entries with height 1 at the angles, shape (n, d)."""
    return bumps_at(dictionary, angle_deg[None, :]).T


def bumps_at(dictionary: Dictionary, angle_deg: F64) -> F64:
    """The entries with height 1, each at its own angles (d, k) or all at the same (1, k): shape (d, k)."""
    middle, width, flat = (x[:, None] for x in (dictionary.middle_deg, dictionary.width_deg, dictionary.flat))
    off = angle_deg - middle
    off = np.abs(off - 360.0 * np.rint(off / 360.0))
    d = (off * (2.0 / width) - flat) / (1.0 - flat)
    height, inside = np.zeros(d.shape), d < 1.0
    height[inside] = 0.5 + 0.5 * np.cos(np.pi * np.maximum(d[inside], 0.0))
    return height


@dataclass(frozen=True, slots=True)
class Moments:
    """Weighted products of the dictionary with the columns (p, d), itself (d,) and the values (d,)."""

    cross: F64
    square: F64
    right: F64

    def at(self, entries: NDArray[np.intp]) -> Moments:
        """Of these entries."""
        return Moments(self.cross[:, entries], self.square[entries], self.right[entries])


def moments(dictionary: Dictionary, data: Observations, columns: F64) -> Moments:
    """Products over all observations, exact, for entries that lie near each other; columns: (g, p)."""
    middle = float(dictionary.middle_deg[dictionary.middle_deg.size // 2])
    reach = NEAR_DEG + float(dictionary.width_deg.max()) / 2
    near = np.abs(np.mod(data.angle_deg - middle + 180.0, 360.0) - 180.0) <= 2 * reach
    shape = bumps(dictionary, data.angle_deg[near])
    weighted = shape * data.weight[near, None]
    square = np.einsum("gd,gd->d", shape, weighted)
    if data.bound > 0:
        square = np.maximum(square, data.bound * np.minimum(np.sum(shape**2, axis=0), 1.0))
    return Moments(columns[near].T @ weighted, square, data.value_mm[near] @ weighted)


def moments_everywhere(data: Observations, columns: F64) -> Moments:
    """As `moments` for `everywhere()`, by Fourier transform of readings binned to half a degree."""
    lead = np.stack([data.weight, data.weight * data.value_mm, np.ones(data.weight.size)], axis=1)
    own, right, covered = _binned(data, lead).transpose(1, 0, 2)
    square = [
        np.maximum(_at_steps(own, squared), data.bound * np.clip(_at_steps(covered, squared), 0.0, 1.0))
        for _, squared in _form_spectra()
    ]
    told = [_at_steps(right, shape) for shape, _ in _form_spectra()]
    return Moments(cross_everywhere(data, columns), np.concatenate(square), np.concatenate(told))


def cross_everywhere(data: Observations, columns: F64) -> F64:
    """The products of `everywhere()` with the columns alone, (p, d)."""
    rows = _binned(data, columns * data.weight[:, None])
    return np.concatenate([_at_steps(rows, shape[:, None]) for shape, _ in _form_spectra()], axis=1)


def _binned(data: Observations, columns: F64) -> C128:
    """The sums of these columns (g, r) by half degrees, transformed and folded: (3, r, STEPS / 2 + 1)."""
    bins = STEPS * FINE
    at = np.floor(np.mod(data.angle_deg, 360.0) / 360.0 * bins).astype(np.int64) % bins
    order = np.argsort(at, kind="stable")
    places, starts = np.unique(at[order], return_index=True)
    sums = np.zeros((columns.shape[1], bins))
    sums[:, places] = np.add.reduceat(columns[order], starts, axis=0).T
    return _folded(np.fft.rfft(sums, axis=1))


@cache
def _form_spectra() -> tuple[tuple[C128, C128], ...]:
    """Of every form at no angle, and of its square: their transforms, conjugated and folded. A bump at
    position m covers bins around m: a correlation."""
    bins = STEPS * FINE
    centre: F64 = (np.arange(bins, dtype=np.float64) + 0.5) * (360.0 / bins)
    found = []
    for width, flat in FORMS:
        one = bumps(Dictionary(np.zeros(1), np.array([width]), np.array([flat])), centre)[:, 0]
        plain, squared = (_folded(np.conj(np.fft.rfft(x))) / FINE for x in (one, one**2))
        found.append((plain, squared))
    return tuple(found)


def _folded(spectrum: C128) -> C128:
    """The parts of a half spectrum (…, STEPS * 3 / 2 + 1) that fall on each other where only every third
    place is asked for, shape (3, …, STEPS / 2 + 1)."""
    half = STEPS // 2 + 1
    parts = [spectrum[..., :half], spectrum[..., STEPS : STEPS + half]]
    return np.stack([*parts, np.conj(spectrum[..., STEPS : STEPS - half : -1])])


def _at_steps(rows: C128, shape: C128) -> F64:
    """Every third place of rows (3, …, k) correlated with a shape (3, …, k), both folded: (…, STEPS)."""
    product = rows[0] * shape[0]
    for row, part in zip(rows[1:], shape[1:], strict=True):
        product += row * part
    return np.asarray(np.fft.irfft(product, STEPS, axis=-1))


def joined_moments(found: Moments, more: F64, at: int, near: Moments) -> Moments:
    """The moments with the products of more columns (q, d) among the others' from this one on; after them
    those of other entries with all these columns."""
    q, d = more.shape
    cross = np.empty((found.cross.shape[0] + q, d + near.square.size))
    cross[:at, :d], cross[at : at + q, :d], cross[at + q :, :d] = found.cross[:at], more, found.cross[at:]
    cross[:, d:] = near.cross
    return Moments(
        cross, np.concatenate([found.square, near.square]), np.concatenate([found.right, near.right])
    )


@dataclass(frozen=True, slots=True)
class Match:
    """Per height scale and dictionary entry (h, d): log Bayes factor against no feature. precision, signal
    (d,): how well each entry's height is told beside the harmonics, in 1/mm^2, and that times its best
    value."""

    log_factor: F64
    precision: F64
    signal: F64

    def heights(self, at: NDArray[np.intp]) -> tuple[F64, F64]:
        """Mean and standard deviation of the height, in mm, of these of the raveled log factors."""
        scale, entry = np.divmod(at, self.precision.size)
        known = self.precision[entry] + _STIFFNESS[scale, 0]
        return self.signal[entry] / known, 1.0 / np.sqrt(known)


_STIFFNESS = np.array(HEIGHTS_MM)[:, None] ** -2


def match(found: Moments, mean: F64, covariance: F64, noise: float) -> Match:
    """The evidence for each entry, given the harmonics' posterior mean (p,) and covariance (p, p), which
    are zero for the columns that a spectrum does not have."""
    precision, signal = _heard(found, mean, covariance, noise)
    return Match(_log_factor(precision, signal), precision, signal)


def left_at_least(found: Moments, inverse: F64) -> F64:
    """What the harmonics leave of each entry's own square at the least, shape (d,). inverse: of normal
    equations whose prior is nowhere narrower than that of any spectrum that is asked, (p, p)."""
    taken = _squares(inverse, found.cross)
    return np.asarray(np.maximum(found.square * (1.0 - ROUNDING) - taken, LEFT_LEAST * found.square))


def best_match(
    found: Moments, mean: F64, covariance: F64, noise: float, above: float, left: F64
) -> tuple[float, int] | None:
    """The largest log Bayes factor of any entry and height, and the entry; None where none is above that,
    which is positive. left: as `left_at_least`, in which each entry that is asked in full is worth enough."""
    # Whatever its height, an entry is worth less than a height of its own choice would make of it.
    signal = found.right - mean @ found.cross
    able = np.flatnonzero(0.5 * signal**2 > above * noise**2 * left)
    if not able.size:
        return None
    gain = match(found.at(able), mean, covariance, noise).log_factor.max(axis=0)
    at = first_of_highest(gain)
    return (float(gain[at]), int(able[at])) if gain[at] > above + TIE else None


def first_of_highest(x: F64) -> int:
    """Where the highest is, the first of those that a processor's rounding might take for it; x: (n,)."""
    return int(np.argmax(x >= float(x.max()) - TIE))


def _heard(found: Moments, mean: F64, covariance: F64, noise: float) -> tuple[F64, F64]:
    """How well each entry's height is told beside the harmonics, in 1/mm^2, and that times its best value."""
    width = covariance.shape[0] - int(np.argmax(np.diagonal(covariance)[::-1] > 0))
    mean, cross = mean[:width], found.cross[:width]
    taken = _squares(covariance[:width, :width], cross) / noise**2
    precision = np.maximum(found.square - taken, LEFT_LEAST * found.square) / noise**2
    return precision, (found.right - mean @ cross) / noise**2


def _squares(form: F64, vectors: F64) -> F64:
    """Of each of the vectors (p, d) under this quadratic form (p, p): shape (d,)."""
    found = np.empty(vectors.shape[1])
    for at in range(0, found.size, AT_ONCE):
        part = vectors[:, at : at + AT_ONCE]
        np.einsum("pd,pd->d", part, form @ part, out=found[at : at + AT_ONCE])
    return found


def _log_factor(precision: F64, signal: F64) -> F64:
    return np.asarray(
        0.5 * signal**2 / (precision + _STIFFNESS) - 0.5 * np.log1p(precision * (1.0 / _STIFFNESS))
    )
