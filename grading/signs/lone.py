"""Single readings that stand out from all around them: a spike, a slip of the pencil, or a dent that one
reading alone has seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from config.runout import SweepRules
from config.signs import Signs
from grading.evidence import F64, Sweep
from grading.signs.scatter import scatter_mm
from grading.surface.harmonics import columns


@dataclass(frozen=True, slots=True)
class Lone:
    """spikes: readings that no surface can give, shape (s,), indices. doubtful: those that may be a
    narrow dent, shape (d,). by_mm: how far each reading is from what its neighbours say, shape (n,)."""

    spikes: NDArray[np.intp]
    doubtful: NDArray[np.intp]
    by_mm: F64


def find_lone(sweep: Sweep, rules: SweepRules, *, running: bool = False) -> Lone:
    """All single readings that stand out, by what they can be. Where they are few they are too far apart to
    be judged by their neighbours: a low-order surface is fitted to all of them instead. running: between
    marks, where the crank may have hurried over a dent, so that it was wider than is told."""
    signs, sparse = rules.signs, is_sparse(sweep, rules)
    by, out = _against_fit(sweep, signs) if sparse else _against_neighbours(sweep, signs)
    spikes: list[int] = []
    doubtful: list[int] = []
    dent_deg = rules.narrowest_deg / (signs.lone_hurry if running else 1.0)
    near_deg = dent_deg / 2
    for i in np.flatnonzero(out):
        off = np.abs(np.mod(sweep.angle_deg - sweep.angle_deg[i] + 180.0, 360.0) - 180.0)
        off[i] = np.inf
        away = np.sort(off[~out])[:2]
        width = float(away.sum()) if away.size == 2 else 360.0
        same = off < (
            signs.lone_same_share * min(width, signs.lone_same_deg) if sparse else min(0.5 * width, near_deg)
        )
        differs = np.abs(sweep.value_mm[same] - sweep.value_mm[i]) > signs.lone_alike_share * abs(by[i])
        if differs.size and not differs.all():
            continue  # read twice alike: it is there
        (spikes if differs.any() or width < dent_deg else doubtful).append(int(i))
    return Lone(np.array(spikes, dtype=np.intp), np.array(doubtful, dtype=np.intp), by)


def is_sparse(sweep: Sweep, rules: SweepRules) -> bool:
    """Whether its readings are too far apart to be judged by their neighbours."""
    turns = max(float(np.ptp(sweep.angle_deg)) / 360.0, 1.0)
    return sweep.angle_deg.size / turns < rules.signs.lone_sparse_below


def lone_in_passing(sweep: Sweep, rules: SweepRules) -> NDArray[np.intp]:
    """Readings that may be a narrow dent by what the crank passed just before and after each alone, shape
    (d,), indices: for angles of which the same place has another on each turn. None where they are few."""
    signs = rules.signs
    if is_sparse(sweep, rules):
        return np.zeros(0, dtype=np.intp)
    out = _against_neighbours(sweep, signs)[1]
    apart = np.abs(np.diff(sweep.angle_deg, prepend=np.nan, append=np.nan))
    return np.flatnonzero(out & (apart[:-1] + apart[1:] >= rules.narrowest_deg / signs.lone_hurry))


def _against_neighbours(sweep: Sweep, signs: Signs) -> tuple[F64, NDArray[np.bool_]]:
    """Each reading less the median of three lines through neighbours, in order of time: what the crank passed
    just before and after, however well its angles are known. A line that has no neighbour on one side, at
    either end of the sweep, goes on from two on the other, and carries twice their scatter."""
    v = sweep.value_mm
    n = v.size
    at = np.arange(n)
    said, carried = np.empty((3, n)), np.ones(n)
    for row, k in zip(said, (1, 2, 3), strict=True):
        row[k : n - k] = 0.5 * (v[: n - 2 * k] + v[2 * k :])
        row[:k] = 2 * v[k : 2 * k] - v[2 * k : 3 * k]
        row[n - k :] = 2 * v[n - 2 * k : n - k] - v[n - 3 * k : n - 2 * k]
    carried[(at < 3) | (at >= n - 3)] = 2.0
    off = v - np.median(said, axis=0)
    scatters = signs.lone_scatter * scatter_mm(sweep) * carried
    allowed = np.maximum(signs.lone_lines * np.ptp(said, axis=0), scatters)
    allowed = np.maximum(allowed, max(signs.lone_steps * sweep.gauge.resolution_mm, signs.lone_mm))
    return off, np.abs(off) > allowed


def _against_fit(sweep: Sweep, signs: Signs) -> tuple[F64, NDArray[np.bool_]]:
    """Each reading less what a low-order surface through all others says, and whether it is out by its
    externally studentised residual (textbook regression diagnostics); the worst one first."""
    n = sweep.angle_deg.size
    orders = 3 if n >= 20 else 2
    used = np.ones(n, dtype=bool)
    by, out = np.zeros(n), np.zeros(n, dtype=bool)
    x = np.column_stack([np.ones(n), columns(sweep.angle_deg, orders)])
    for _ in range(3):
        rows = np.flatnonzero(used)
        if rows.size < x.shape[1] + 4:
            break
        inverse = np.linalg.pinv(x[rows].T @ x[rows])
        hat = np.einsum("np,pq,nq->n", x[rows], inverse, x[rows])
        rest = sweep.value_mm[rows] - x[rows] @ (inverse @ (x[rows].T @ sweep.value_mm[rows]))
        own = np.maximum(1.0 - hat, 1e-6)
        dof = rows.size - x.shape[1] - 1
        left = np.maximum(float(rest @ rest) - rest**2 / own, 0.0) / dof
        least = (sweep.gauge.resolution_mm**2 / 12 + 1e-6) ** 0.5
        t = np.abs(rest) / np.sqrt(np.maximum(left, least**2) * own)
        worst = int(np.argmax(t))
        off = abs(rest[worst] / own[worst])
        if t[worst] <= signs.lone_sparse_u * (1 + 4 / dof) or off < signs.lone_sparse_mm:
            break
        i = rows[worst]
        by[i], out[i], used[i] = rest[worst] / own[worst], True, False
    return by, out
