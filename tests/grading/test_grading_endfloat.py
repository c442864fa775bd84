"""End float in a face sweep: the level jumps, the surface does not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from grading.endfloat import find_jumps
from grading.evidence import Sweep
from grading.runout import estimate_runout
from tests.grading.synthetic import random_case, simulate


def shifted(sweep: Sweep, begin: int, end: int, height_mm: float) -> Sweep:
    """The face with the crankshaft at the other end of its float between two readings."""
    at = np.arange(sweep.value_mm.size)
    value = sweep.value_mm + height_mm * ((at >= begin) & (at < end))
    step = sweep.gauge.resolution_mm
    return replace(sweep, surface="face", value_mm=np.round(value / step) * step)


@pytest.mark.slow
def test_a_shift_out_and_back_is_found_and_taken_out() -> None:
    covered = 0
    for number in range(12):
        rng = np.random.default_rng([3, number])
        case = random_case(rng, orders=(1, 3), feature=False, source="encoder", per_turn=(200, 2000))
        made = simulate(rng, case)
        n = made.sweep.value_mm.size
        begin, end = int(rng.uniform(0.15, 0.45) * n), int(rng.uniform(0.6, 0.85) * n)
        sweep = shifted(made.sweep, begin, end, float(rng.choice([-0.15, -0.08, 0.08, 0.15])))
        assert [jump.after for jump in find_jumps(sweep)] == [begin, end]
        found = estimate_runout([sweep], seed=number)
        assert found.end_float_steps == 2
        assert "jumped 2 times" in found.warnings[0]
        covered += abs(found.true_tir_mm - made.true_tir_mm) <= found.u_expanded_mm
    assert covered >= 10


def test_a_rim_has_no_end_float() -> None:
    rng = np.random.default_rng(5)
    case = random_case(rng, orders=(2, 2), feature=False, source="encoder", per_turn=(400, 400))
    made = simulate(rng, case)
    rim = replace(shifted(made.sweep, 100, 300, 0.1), surface="rim")
    assert estimate_runout([rim], seed=1).end_float_steps == 0


@pytest.mark.slow
def test_smooth_and_dented_faces_seldom_seem_to_jump() -> None:
    seeming = 0
    for number in range(60):
        rng = np.random.default_rng([4, number])
        seeming += bool(find_jumps(simulate(rng, random_case(rng)).sweep))
    assert seeming <= 3
