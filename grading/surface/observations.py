"""Sweeps prepared for fitting: readings gathered into groups that a fit cannot tell apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from grading.evidence import F64, Sweep
from grading.surface.coverage import SAME_PLACE_DEG

# Neighbouring readings within one bin of this width are gathered, in degrees: a wave of order 30
# with 0.02 mm amplitude bends by 0.1 um across it.
BIN_DEG = 0.7
# Below this many readings nothing is gathered: it would save no time.
GATHER_FROM = 700
# Prior standard deviations: of a sweep's mean level about its readings' mean, and of a step of the level.
LEVEL_MM, STEP_MM = 0.5, 0.2
# Half waves in time by which a level may wander beside its even drift: a path of which only both ends
# are known (Brownian bridge, its Karhunen-Loeve series, cut off).
WAVES = 6


@dataclass(frozen=True, slots=True)
class Wander:
    """How a sweep's level may move in time. drift_mm: standard deviation of an even drift from end to
    end; wander_mm: of what the level does beside it, as a random walk of that size; steps: progress of
    time at which it jumps, shape (j,)."""

    drift_mm: float
    wander_mm: float
    steps: F64

    def columns(self, along: F64) -> F64:
        """What it may be made of, shape (g, f): the level, its drift, its waves, its steps."""
        parts = [np.ones((along.size, 1)), along[:, None]]
        if self.wander_mm > 0:
            parts.append(np.sin(np.pi * np.outer(along + 0.5, np.arange(1, WAVES + 1))))
        if self.steps.size:
            parts.append((along[:, None] >= self.steps).astype(float))
        return np.concatenate(parts, axis=1)

    def prior_mm(self) -> F64:
        """Standard deviations of these columns, shape (f,)."""
        waves = self.wander_mm * 2**0.5 / (np.pi * np.arange(1, WAVES + 1))
        parts = [np.array([LEVEL_MM, self.drift_mm]), waves if self.wander_mm > 0 else np.zeros(0)]
        return np.concatenate([*parts, np.full(self.steps.size, STEP_MM)])


@dataclass(frozen=True, slots=True)
class Observations:
    """angle_deg, along (progress of time, -0.5 … 0.5), value_mm, weight, angle_u_deg: shape (g,);
    nuisance (g, f): what moves the readings and is no surface, prior_mm (f,): how far it may.

    Pseudo-observations: value_mm with variance 1/weight in units that the fit states. within: sum of
    squares inside the groups, weighted alike. count: readings behind them. bound: weight that any one
    reading has against a narrow feature, however little it weighs otherwise: its value is known to half
    a step, which a Gaussian weight found under a smooth surface does not hold. smear_deg: shape (g,),
    by how much each angle is blurred, which flattens what is seen of every order (below).
    """

    angle_deg: F64
    along: F64
    value_mm: F64
    weight: F64
    angle_u_deg: F64
    within: float
    count: float
    nuisance: F64
    prior_mm: F64
    smear_deg: F64 | None = None
    bound: float = 0.0


def progress(sweep: Sweep) -> F64:
    """Share of the sweep's time at each reading, -0.5 … 0.5, shape (n,); by order where times are unknown."""
    t = sweep.time_s if float(np.ptp(sweep.time_s)) > 0 else np.arange(sweep.angle_deg.size, dtype=float)
    return np.asarray((t - t.min()) / np.ptp(t) - 0.5)


def one_turn(sweep: Sweep) -> Sweep:
    """The 360 degrees of a sweep whose two ends are best known, the excess beyond them left out.

    For angles that run on between marks: past the last mark they are extrapolated, and the same place
    read twice under two angles would look like drift. Any one turn holds every crest.
    """
    angle = sweep.angle_deg
    excess = float(np.ptp(angle)) - 360.0
    if excess <= 0:
        return sweep
    begin = np.unique(angle[angle <= angle.min() + excess])
    order = np.argsort(angle, kind="stable")
    seam = [np.interp(begin + turn, angle[order], sweep.angle_u_deg[order]) for turn in (0.0, 360.0)]
    at = float(begin[int(np.argmin(np.hypot(*seam)))])
    best = (angle >= at - SAME_PLACE_DEG) & (angle <= at + 360.0 + SAME_PLACE_DEG)
    return replace(
        sweep,
        angle_deg=angle[best],
        value_mm=sweep.value_mm[best],
        angle_u_deg=sweep.angle_u_deg[best],
        time_s=sweep.time_s[best],
    )


def gather(sweep: Sweep, wander: Wander, *, by_value: bool) -> Observations:
    """Groups of successive readings in one small bin of angle, by mean; weight = readings in the group.

    Nothing is gathered across a step of the level. by_value: only equal readings go together, as
    interval-censored data need.
    """
    angle, value, along = sweep.angle_deg, sweep.value_mm, progress(sweep)
    n = angle.size
    prior = wander.prior_mm()
    if n < GATHER_FROM:
        columns = wander.columns(along)
        return Observations(angle, along, value, np.ones(n), sweep.angle_u_deg, 0.0, float(n), columns, prior)
    bins = np.floor(angle / BIN_DEG)
    spell = np.searchsorted(np.sort(wander.steps), along, side="right")
    label = np.concatenate([[0], np.cumsum((np.diff(bins) != 0) | (np.diff(spell) != 0))])
    if by_value:
        level = np.round((value - value.min()) / sweep.gauge.resolution_mm).astype(np.int64)
        _, label = np.unique(label * (level.max() + 1) + level, return_inverse=True)
    weight = np.bincount(label).astype(float)

    def mean(x: F64) -> F64:
        return np.asarray(np.bincount(label, x) / weight)

    middle, late = mean(value), mean(along)
    within = float(np.sum((value - middle[label]) ** 2))
    u = mean(sweep.angle_u_deg)
    return Observations(mean(angle), late, middle, weight, u, within, float(n), wander.columns(late), prior)


def pooled(parts: Sequence[Observations]) -> Observations:
    """Several sweeps of one surface as one: each keeps the level and the drift of its own."""
    if len(parts) == 1:
        return parts[0]
    wide = sum(part.prior_mm.size for part in parts)
    nuisance = np.zeros((sum(part.along.size for part in parts), wide))
    row = column = 0
    for part in parts:
        g, f = part.nuisance.shape
        nuisance[row : row + g, column : column + f] = part.nuisance
        row, column = row + g, column + f
    return Observations(
        angle_deg=np.concatenate([part.angle_deg for part in parts]),
        along=np.concatenate([part.along for part in parts]),
        value_mm=np.concatenate([part.value_mm for part in parts]),
        weight=np.concatenate([part.weight for part in parts]),
        angle_u_deg=np.concatenate([part.angle_u_deg for part in parts]),
        within=sum(part.within for part in parts),
        count=sum(part.count for part in parts),
        nuisance=nuisance,
        prior_mm=np.concatenate([part.prior_mm for part in parts]),
    )
