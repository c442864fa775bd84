"""A sweep prepared for fitting: readings gathered into groups that a fit cannot tell apart."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from grading.coverage import SAME_PLACE_DEG
from grading.evidence import F64, Sweep

# Neighbouring readings within one bin of this width are gathered, in degrees: a wave of order 30
# with 0.02 mm amplitude bends by 0.1 um across it.
BIN_DEG = 0.7
# Below this many readings nothing is gathered: it would save no time.
GATHER_FROM = 700


@dataclass(frozen=True, slots=True)
class Observations:
    """angle_deg, along (progress of time, -0.5 … 0.5), value_mm, weight, angle_u_deg: shape (g,).

    Pseudo-observations: value_mm with variance 1/weight in units that the fit states. within: sum of
    squares inside the groups, weighted alike. count: readings behind them. bound: weight that any one
    reading has against a narrow feature, however little it weighs otherwise: its value is known to half
    a step, which a Gaussian weight found under a smooth surface does not hold.
    """

    angle_deg: F64
    along: F64
    value_mm: F64
    weight: F64
    angle_u_deg: F64
    within: float
    count: float
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


def gather(sweep: Sweep, steps: F64, *, by_value: bool) -> Observations:
    """Groups of successive readings in one small bin of angle, by mean; weight = readings in the group.

    steps: progress of time across which nothing is gathered. by_value: only equal readings go together,
    as interval-censored data need.
    """
    angle, value, along = sweep.angle_deg, sweep.value_mm, progress(sweep)
    n = angle.size
    if n < GATHER_FROM:
        return Observations(angle, along, value, np.ones(n), sweep.angle_u_deg, 0.0, float(n))
    bins = np.floor(angle / BIN_DEG)
    spell = np.searchsorted(np.sort(steps), along, side="right")
    label = np.concatenate([[0], np.cumsum((np.diff(bins) != 0) | (np.diff(spell) != 0))])
    if by_value:
        level = np.round((value - value.min()) / sweep.gauge.resolution_mm).astype(np.int64)
        _, label = np.unique(label * (level.max() + 1) + level, return_inverse=True)
    weight = np.bincount(label).astype(float)

    def mean(x: F64) -> F64:
        return np.asarray(np.bincount(label, x) / weight)

    middle = mean(value)
    within = float(np.sum((value - middle[label]) ** 2))
    return Observations(
        mean(angle), mean(along), middle, weight, mean(sweep.angle_u_deg), within, float(n)
    )
