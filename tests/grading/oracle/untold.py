"""How sharp anybody can be, from mark to mark, who is told less of how such sweeps come about (`walked.py`):
neither how many orders there are, nor how unevenly the crank is barred.

All orders to ORDERS are possible, of sizes that fall off. The pace is a smooth function of time, strong and
slow, with weaker and quicker pulls in it, whatever it was this time.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from grading.evidence import F64
from grading.surface.harmonics import columns
from tests.grading.oracle.walked import ASKED_MM, KNOTS, MARK_U_DEG, SEED, Pace, Walk, sharpest
from tests.grading.oracle.world import DENSE_DEG

ORDERS = 14
# How far the logarithm of the speed goes, and how many degrees it remembers: the pace, and pulls within it.
PACE, PULL = (0.4, 30.0), (0.15, 10.0)
# Waves of the pace that are weaker than the strongest by more than this are left out.
WAVES_TO = 1e-3
# Orders that are not there begin at this, in mm.
LITTLE_MM = 1e-4
# Variance of each wave of the pace where the one that passes the marks is sought, in so many steps.
LOOSE, TRIES = 0.01, 4
# Places of the walk, the first of which are too near to where it began.
STEPS, FORGOTTEN = 250, 30


def table(sweeps: int, seed: int = SEED) -> Iterator[str]:
    """As that of `walked.py`, of its sweeps from mark to mark alone: ringtrue, who is told this less, and who
    is told all."""
    rows = []
    for number in range(sweeps):
        if (walk := Untold(number, seed)).by_marks:
            told = sharpest(number, seed)
            less_mm = float(np.median(walk.tirs_mm(STEPS)[FORGOTTEN:])) - walk.true_mm
            rows.append((walk.shape.height != 0.0, told.ours_mm, less_mm, told.best_mm))
    head = (
        ("sweeps", 8),
        ("ringtrue", 10),
        ("beyond", 8),
        ("told less", 11),
        ("beyond", 8),
        ("told", 8),
        ("beyond", 8),
    )
    yield f"{'':12}" + "".join(f"{name:>{wide}}" for name, wide in head)
    for name, among in (("all", (False, True)), ("no dent", (False,)), ("dent", (True,))):
        off = np.abs([row[1:] for row in rows if row[0] in among])
        each = zip(
            1000 * np.quantile(off, 0.95, axis=0),
            100 * np.mean(off > ASKED_MM, axis=0),
            (10, 11, 8),
            strict=True,
        )
        yield f"{name:12}{len(off):8}" + "".join(
            f"{error:{wide}.1f}{beyond:8.0f}" for error, beyond, wide in each
        )


class Untold(Walk):
    """Its orders and its pace are what is stated here, and begin at the truth. true_mm: the true TIR."""

    def __init__(self, number: int, seed: int) -> None:
        super().__init__(number, seed)
        self.true_mm = self.tir_mm(self.place)
        if not self.is_paced:
            return
        head, wave, dent, z = np.split(self.place, [2, self.dent_at, self.pace_at])
        log = self.pace.waves @ z
        self.pace = smooth()
        more = 2 * (ORDERS - self.orders)
        self.orders, self.waves = ORDERS, 2 * ORDERS
        self.dense = columns(DENSE_DEG, ORDERS)
        self.dent_at, self.pace_at = self.dent_at + more, self.pace_at + more
        little = LITTLE_MM * self.rng.standard_normal(more)
        self.place = np.concatenate([head, wave, little, dent, self._through_marks(log)])

    def _through_marks(self, log: F64) -> F64:
        """The pace that is nearest to this logarithm of the speed, shape (KNOTS,), and passes the marks."""
        waves = self.pace.waves[:, 1:]
        near = np.linalg.solve(
            waves.T @ waves + 2 * LOOSE * np.eye(waves.shape[1]), waves.T @ (log - log.mean())
        )
        z = np.append(log.mean(), near)
        know = LOOSE * np.eye(z.size)
        know[0, 0] = 1.0
        for _ in range(TRIES):
            moves = self.pace.moves(z, self.pressed[1:])
            off = self.marks_deg[1:] - self.pace.angle_deg(z, self.pressed[1:])
            among = moves @ know @ moves.T + MARK_U_DEG**2 * np.eye(off.size)
            z = z + know @ moves.T @ np.linalg.solve(among, off)
        return z


def smooth() -> Pace:
    """How a crank may be barred at all, of which only PACE and PULL are told."""
    at = 366 * (np.arange(KNOTS) + 0.5) / KNOTS
    apart = np.subtract.outer(at, at)
    alike = sum(size**2 * np.exp(-0.25 * (apart / memory) ** 2) for size, memory in (PACE, PULL))
    share, waves = np.linalg.eigh(alike)
    kept = share > WAVES_TO * share[-1]
    return Pace(np.hstack([np.ones((KNOTS, 1)), waves[:, kept] * np.sqrt(share[kept])]))
