"""Which bay or gauge reads high: each held against the mean of those that it is joined with.

tau and sigma of the model are summed over on a grid, weighted by the restricted likelihood (Patterson and
Thompson 1971) and half a Cauchy each, as in a damper's own trend: what is said is a mixture of normals.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from grading.evidence import F64
from grading.fleet.joined import Group
from grading.fleet.model import Model, Seen, solved
from grading.programme.trend import SCATTER_MM
from grading.statistics.mixtures import TAIL, Interval, mixed_cdf, mixed_interval

GROWTH_SPREAD_MM = 0.03
"""Scale of sigma: how differently dampers grow over one usual interval; own choice, no source."""
TAUS_MM = np.geomspace(1e-4, 0.3, 28)
SIGMAS_MM = np.concatenate([[0.0], np.geomspace(2e-3, 0.3, 10)])
"""Where they are summed over, evenly in the logarithm."""


@dataclass(frozen=True, slots=True)
class Effect:
    """One reader held against the mean of the others. group: all that it can be compared with, itself too;
    shared: dampers that it and another of these read; figures: of its own. offset: how much higher it reads;
    chance: two-sided, of as much or more where it reads as they do. why_none: why neither can be told."""

    reader: str
    group: tuple[str, ...]
    shared: int
    figures: int
    offset: Interval | None = None
    chance: float | None = None
    why_none: str | None = None


@dataclass(frozen=True, slots=True)
class Fitted:
    """All readers of one check. growth: per usual interval; None where no damper was read twice."""

    effects: tuple[Effect, ...]
    growth: Interval | None
    scatter: Interval | None


def compared(seen: Sequence[Seen]) -> Fitted:
    """All readers of one check, in the order of their names."""
    model = Model(seen)
    alone = _alone(seen, model.groups)
    if model.figures == 0:
        return Fitted(tuple(alone), None, None)
    grid = [(tau, sigma) for tau in TAUS_MM for sigma in SIGMAS_MM]
    places = [solved(model.sums(tau, sigma)) for tau, sigma in grid]
    taus, sigmas = (np.array(values) for values in zip(*grid, strict=True))
    # Half a Cauchy of each; of tau and sigma evenly in the logarithm, but for the place that stands for none.
    steps = np.where(sigmas > 0, sigmas, SIGMAS_MM[1])
    prior = (
        np.log(taus * steps) - np.log1p((taus / SCATTER_MM) ** 2) - np.log1p((sigmas / GROWTH_SPREAD_MM) ** 2)
    )
    log_weight = np.array([one.evidence for one in places]) + prior
    weight = np.exp(log_weight - log_weight.max())
    weight = np.asarray(weight / weight.sum())
    effects = alone
    for g, group in enumerate(model.groups):
        mean, sd = (
            np.array([of[g] for of in side]) for side in ([p.mean for p in places], [p.sd for p in places])
        )
        effects += [_effect(group, n, weight, mean[:, n], sd[:, n]) for n in range(len(group.readers))]
    growths, sds = np.array([p.growth for p in places]), np.array([p.growth_sd for p in places])
    growth = mixed_interval(weight, growths, sds) if np.isfinite(sds).all() else None
    return Fitted(tuple(sorted(effects, key=lambda one: one.reader)), growth, _summed(weight, taus))


def _alone(seen: Sequence[Seen], groups: Sequence[Group]) -> list[Effect]:
    joined = {reader for group in groups for reader in group.readers}
    figures: dict[str, int] = {}
    for one in seen:
        if one.reader not in joined:
            figures[one.reader] = figures.get(one.reader, 0) + 1
    why = "it shares no damper with another, so there is nothing to compare it by"
    return [Effect(reader, (reader,), 0, count, why_none=why) for reader, count in figures.items()]


def _effect(group: Group, n: int, weight: F64, mean: F64, sd: F64) -> Effect:
    reader = group.readers[n]
    told = Effect(reader, group.readers, group.shared[n], group.figures[n])
    if not np.isfinite(sd).all():
        why = "each damper went from one to the other in the same order, so growth cannot be told from it"
        return Effect(reader, told.group, told.shared, told.figures, why_none=why)
    below = mixed_cdf(weight, mean, sd, 0.0)
    chance = 2.0 * min(below, 1.0 - below)
    return Effect(reader, told.group, told.shared, told.figures, mixed_interval(weight, mean, sd), chance)


def _summed(weight: F64, taus: F64) -> Interval:
    """Of tau, from its weights."""
    order = np.argsort(taus, kind="stable")
    heap = np.cumsum(weight[order])
    at = (min(int(np.searchsorted(heap, p)), len(heap) - 1) for p in (0.5, TAIL, 1 - TAIL))
    return Interval(*(float(taus[order[n]]) for n in at))
