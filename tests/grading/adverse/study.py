"""Days graded, one by one or by several processes."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context

from contract.result import SurfaceCheck
from grading.assess import judge
from tests.grading.adverse.catalogue import BY_NAME
from tests.grading.adverse.day import LIMIT_MM, Day
from tests.grading.adverse.regime import Regime
from tests.grading.samples import EXAMPLE

CHUNK = 8
SEED = 20261125


@dataclass(frozen=True, slots=True)
class Graded:
    """One day, lengths in mm; estimate and u are None where the outcome is `invalid`. looks: how many
    attempts had been made when it was judged last."""

    regime: str
    number: int
    truth_mm: float
    outcome: str
    estimate_mm: float | None
    u_mm: float | None
    reason: str
    ms: float
    looks: int

    @property
    def wrongly_kept(self) -> bool:
        """Called within although it is over."""
        return self.outcome == "within" and self.truth_mm > LIMIT_MM

    @property
    def wrongly_replaced(self) -> bool:
        """Called over although it is within."""
        return self.outcome == "over" and self.truth_mm <= LIMIT_MM


def grade(seed: int, name: str, number: int) -> Graded:
    """The day of this number of this regime: the same for the same three."""
    regime = BY_NAME[name]
    day = Day(seed, name, number, regime.truths_mm)
    attempts = regime.build(day)
    spent = 0.0
    for looks in range(1 if regime.looks else len(attempts), len(attempts) + 1):
        began = time.process_time()
        check = judge(day.surface, attempts[:looks], EXAMPLE)
        spent += time.process_time() - began
        if check.outcome != "unclear":
            break
    assert isinstance(check, SurfaceCheck)
    valid = check.outcome != "invalid"
    return Graded(
        name,
        number,
        day.truth_mm,
        check.outcome,
        check.true_tir_mm if valid else None,
        check.u_expanded_mm if valid else None,
        check.reason,
        1000 * spent,
        looks,
    )


def tasks(regimes: Sequence[Regime], sweeps: int) -> list[tuple[str, int]]:
    """(regime, number) of so many days, shared evenly among the regimes."""
    each, more = divmod(sweeps, len(regimes))
    return [(r.name, n) for i, r in enumerate(regimes) for n in range(each + (i < more))]


def run(regimes: Sequence[Regime], sweeps: int, seed: int = SEED, processes: int = 1) -> Iterator[Graded]:
    """So many days, graded, in whatever order they are done."""
    todo = tasks(regimes, sweeps)
    if processes == 1:
        for name, number in todo:
            yield grade(seed, name, number)
        return
    # Each process works on one core; a numeric library that starts threads of its own only gets in the way.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        names, numbers = [name for name, _ in todo], [number for _, number in todo]
        yield from pool.map(grade, [seed] * len(todo), names, numbers, chunksize=CHUNK)
