"""Bays, or gauges, compared by the dampers that they shared: an additive model of damper, use and reader.

Figure k, read of damper d by reader r after use x with standard uncertainty u_k, is
y_k = a_d + (b + s_d) x_k + c_r + t_k + e_k. a_d: the damper's own level, free, so that only what one damper
read here and there counts, and not which dampers a bay gets; b: growth per usual interval, common and free;
s_d: what one damper grows otherwise, normal with standard deviation sigma; c_r: what the reader adds, free;
t_k: refitting, normal with tau; e_k: the measurement, u_k. For given tau and sigma this is generalised least
squares on two-way data with unequal and missing cells (Henderson 1975, mixed models; textbooks), a_d
eliminated damper by damper as blocks are in incomplete block designs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from grading.evidence import F64
from grading.fleet.joined import Group, groups_of

U_MIN_MM = 1e-5
"""No figure is surer than that."""
SINGULAR = 1e-9
"""Where no more of it than this share is left, nothing is."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One figure of one damper by one reader. x: use, in usual intervals, from any beginning of that
    damper. u_mm: standard uncertainty."""

    damper: str
    reader: str
    x: float
    y_mm: float
    u_mm: float


@dataclass(frozen=True, slots=True)
class Sums:
    """The model once the dampers' levels are eliminated, for one tau and sigma. within: each group's normal
    matrix (r, r) of its readers; along, right: their products with x and y (r,). xx, xy, yy: of x and y.
    log_det: what the restricted likelihood takes of the dampers."""

    within: tuple[F64, ...]
    along: tuple[F64, ...]
    right: tuple[F64, ...]
    xx: float
    xy: float
    yy: float
    log_det: float


@dataclass(frozen=True, slots=True)
class Solved:
    """For one tau and sigma. growth, growth_sd; mean, sd: of each reader's offset, group by group, (r,);
    sd is infinite where growth cannot be told from it. evidence: log of the restricted likelihood."""

    growth: float
    growth_sd: float
    mean: tuple[F64, ...]
    sd: tuple[F64, ...]
    evidence: float


class Model:
    """The figures of one check, laid out by damper. Only dampers that were read twice say anything."""

    def __init__(self, seen: Sequence[Seen]) -> None:
        by_damper: dict[str, list[Seen]] = {}
        for one in seen:
            by_damper.setdefault(one.damper, []).append(one)
        rows = [those for those in by_damper.values() if len(those) > 1]
        self.groups: tuple[Group, ...] = groups_of(by_damper.values())
        place = {reader: (g, n) for g, one in enumerate(self.groups) for n, reader in enumerate(one.readers)}
        shape = len(rows), max(map(len, rows), default=0)
        self._there = np.zeros(shape)
        self._x, self._y, self._var = np.zeros(shape), np.zeros(shape), np.ones(shape)
        group, reader = np.full(shape, -1), np.zeros(shape, dtype=np.intp)
        for d, those in enumerate(rows):
            n = len(those)
            x, y = np.array([one.x for one in those]), np.array([one.y_mm for one in those])
            self._there[d, :n] = 1.0
            self._x[d, :n], self._y[d, :n] = x - x.mean(), y - y.mean()
            self._var[d, :n] = np.maximum([one.u_mm for one in those], U_MIN_MM) ** 2
            for k, one in enumerate(those):
                if one.reader in place:
                    group[d, k], reader[d, k] = place[one.reader]
        self._places = []
        for g, joined in enumerate(self.groups):
            rows_of, cols_of = np.nonzero(group == g)
            self._places.append((rows_of, cols_of, reader[rows_of, cols_of], len(joined.readers)))

    @property
    def figures(self) -> int:
        """How many there are of dampers that were read twice."""
        return int(self._there.sum())

    def sums(self, tau_mm: float, sigma_mm: float) -> Sums:
        """For these standard deviations."""
        there, x, y = self._there, self._x, self._y
        variance = self._var + tau_mm**2
        w = there / variance
        loaded = 1.0 + sigma_mm**2 * np.sum(w * x * x, axis=1)
        turned = sigma_mm / np.sqrt(loaded)[:, None] * w * x  # V^-1 = W - turned turned' (Woodbury)
        ones = w - turned * turned.sum(axis=1, keepdims=True)
        total = ones.sum(axis=1)
        level = ones / np.sqrt(total)[:, None]  # and each damper's own level out of it

        within: list[F64] = []
        along: list[F64] = []
        right: list[F64] = []
        wx, wy = _projected(w, turned, level, x), _projected(w, turned, level, y)
        for rows, cols, at, size in self._places:
            matrix = np.diag(np.bincount(at, w[rows, cols], size).astype(np.float64))
            for part in (turned, level):
                sums = np.bincount(rows * size + at, part[rows, cols], len(there) * size).reshape(-1, size)
                matrix = matrix - sums.T @ sums
            within.append(matrix)
            along.append(np.asarray(np.bincount(at, wx[rows, cols], size), dtype=np.float64))
            right.append(np.asarray(np.bincount(at, wy[rows, cols], size), dtype=np.float64))
        logs = np.sum(there * np.log(variance), axis=1) + np.log(loaded) + np.log(total)
        xx, xy, yy = float(np.sum(wx * x)), float(np.sum(wx * y)), float(np.sum(wy * y))
        return Sums(tuple(within), tuple(along), tuple(right), xx, xy, yy, float(logs.sum()))


def _projected(w: F64, turned: F64, level: F64, a: F64) -> F64:
    """P a, in the places of a."""
    less = turned * np.sum(turned * a, axis=1, keepdims=True)
    return np.asarray(w * a - less - level * np.sum(level * a, axis=1, keepdims=True))


def solved(sums: Sums) -> Solved:
    """Growth and offsets by generalised least squares."""
    inverses, left, evidence = [], sums.xx, -0.5 * (sums.log_det + sums.yy)
    right = sums.xy
    for matrix, along, q in zip(sums.within, sums.along, sums.right, strict=True):
        inverse, log_det = _inverse(matrix)
        inverses.append(inverse)
        left -= float(along @ inverse @ along)
        right -= float(along @ inverse @ q)
        evidence += 0.5 * float(q @ inverse @ q) - 0.5 * log_det
    tells_growth = left > SINGULAR * sums.xx
    growth = right / left if tells_growth else 0.0
    evidence += 0.5 * (growth * right - np.log(left)) if tells_growth else 0.0
    means, sds = [], []
    for inverse, along, q in zip(inverses, sums.along, sums.right, strict=True):
        size = len(q)
        contrast = (np.eye(size) - 1.0 / size) * size / (size - 1)
        slope = contrast @ (inverse @ along)
        variance = np.sum(contrast @ inverse * contrast, axis=1)
        if tells_growth:
            variance = variance + slope**2 / left
        else:
            variance = np.where(np.abs(slope) > np.sqrt(SINGULAR), np.inf, variance)
        means.append(np.asarray(contrast @ (inverse @ (q - along * growth))))
        sds.append(np.sqrt(variance))
    sd = 1.0 / np.sqrt(left) if tells_growth else np.inf
    return Solved(growth, float(sd), tuple(means), tuple(sds), float(evidence))


def _inverse(matrix: F64) -> tuple[F64, float]:
    """The inverse where all offsets add up to nothing, and the log of the determinant there."""
    size = len(matrix)
    scale = float(np.trace(matrix)) / size
    raised = matrix + scale / size
    inverse = np.linalg.inv(raised) - 1.0 / (scale * size)
    return np.asarray(inverse), float(np.linalg.slogdet(raised)[1] - np.log(scale))
