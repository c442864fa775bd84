"""Analysis of variance: sums of squares of one-way and of crossed two-way layouts.

Deviations are taken from means before they are squared, so that readings with many leading digits
in common lose none (two-pass). Readings carry the caller's unit, sums of squares its square.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from grading.evidence import F64


@dataclass(frozen=True, slots=True)
class Source:
    """One row of an analysis of variance: what varies, degrees of freedom, sum of squares."""

    name: str
    dof: int
    squares: float

    @property
    def mean_square(self) -> float:
        """Sum of squares over degrees of freedom."""
        return self.squares / self.dof


@dataclass(frozen=True, slots=True)
class OneWay:
    """Between groups and within them; f_ratio compares their mean squares."""

    between: Source
    within: Source

    @property
    def f_ratio(self) -> float:
        """Mean square between over mean square within."""
        return self.between.mean_square / self.within.mean_square


def one_way(groups: Sequence[F64]) -> OneWay:
    """One-way analysis of groups, each of shape (n_i,), n_i >= 1.

    ValueError for fewer than two groups, an empty one, or no repetition in any.
    """
    if len(groups) < 2 or any(group.size == 0 for group in groups):
        raise ValueError("at least two groups are needed, none of them empty")
    n = sum(group.size for group in groups)
    if n == len(groups):
        raise ValueError("at least one group needs a repetition")
    origin = float(groups[0][0])
    shifted = [group - origin for group in groups]
    grand = float(np.concatenate(shifted).mean())
    means = [float(group.mean()) for group in shifted]
    between = sum(g.size * (mean - grand) ** 2 for g, mean in zip(shifted, means, strict=True))
    within = sum(float(np.sum((g - mean) ** 2)) for g, mean in zip(shifted, means, strict=True))
    return OneWay(Source("between", len(groups) - 1, between), Source("within", n - len(groups), within))


@dataclass(frozen=True, slots=True)
class Crossed:
    """A crossed two-way layout: rows, columns, their interaction, and repetition."""

    rows: Source
    columns: Source
    interaction: Source
    within: Source
    grand_mean: float


def crossed(readings: F64) -> Crossed:
    """Two-way analysis with interaction of a balanced crossed layout.

    readings: shape (rows, columns, repeats), each at least 2. ValueError otherwise.
    """
    if readings.ndim != 3 or min(readings.shape) < 2:
        raise ValueError("rows, columns and repeats are needed, at least two of each")
    p, o, r = readings.shape
    origin = float(readings.flat[0])
    shifted = readings - origin
    cells = shifted.mean(axis=2)
    rows, columns = cells.mean(axis=1), cells.mean(axis=0)
    grand = float(cells.mean())
    apart = cells - rows[:, None] - columns[None, :] + grand
    return Crossed(
        rows=Source("rows", p - 1, o * r * float(np.sum((rows - grand) ** 2))),
        columns=Source("columns", o - 1, p * r * float(np.sum((columns - grand) ** 2))),
        interaction=Source("interaction", (p - 1) * (o - 1), r * float(np.sum(apart**2))),
        within=Source("within", p * o * (r - 1), float(np.sum((shifted - cells[:, :, None]) ** 2))),
        grand_mean=grand + origin,
    )
