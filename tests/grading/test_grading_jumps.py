"""Jumps of the level: they are found, and one indicator cannot tell whose they are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from config.signs import Signs
from contract.gauge import GaugeFacts
from grading.evidence import Sweep
from grading.kinds.surfaces import judge_surface
from grading.signs.jumps import find_jumps
from tests.grading.estimate import estimate_runout
from tests.grading.samples import EXAMPLE
from tests.grading.synthetic import random_case, simulate


def shifted(sweep: Sweep, begin: int, end: int, height_mm: float) -> Sweep:
    """The face with the crankshaft at the other end of its float between two readings."""
    at = np.arange(sweep.value_mm.size)
    value = sweep.value_mm + height_mm * ((at >= begin) & (at < end))
    step = sweep.gauge.resolution_mm
    return replace(sweep, surface="face", value_mm=np.round(value / step) * step)


@pytest.mark.slow
def test_a_shift_out_and_back_is_found_and_both_readings_of_it_are_held() -> None:
    covered = 0
    for number in range(12):
        rng = np.random.default_rng([3, number])
        case = random_case(rng, orders=(1, 3), feature=False, source="encoder", per_turn=(200, 2000))
        made = simulate(rng, case)
        n = made.sweep.value_mm.size
        begin, end = int(rng.uniform(0.15, 0.45) * n), int(rng.uniform(0.6, 0.85) * n)
        sweep = shifted(made.sweep, begin, end, float(rng.choice([-0.15, -0.08, 0.08, 0.15])))
        assert [jump.after for jump in find_jumps(sweep, Signs())] == [begin, end]
        found = estimate_runout([sweep], seed=number)
        assert found.end_float_steps == 2
        assert "jumped 2 times" in found.doubts[0]
        covered += abs(found.true_tir_mm - made.true_tir_mm) <= found.u_expanded_mm
    assert covered >= 10


def test_taking_a_float_out_proves_nothing() -> None:
    """0.31 as it was read, below the limit without its jumps: whose they are, one indicator cannot say."""
    angle = np.linspace(0.0, 366.0, 600)
    value = 0.12 * np.cos(np.deg2rad(angle)) + 0.07 * ((angle > 320) | (angle < 35))
    noise = np.random.default_rng(2).normal(0, 0.001, angle.size)
    gauge = GaugeFacts("indicator-1", 0.001, 0.004)
    times = np.arange(angle.size) / 20.0
    face = Sweep("face", angle, np.round(value + noise, 3), np.full(angle.size, 0.05), times, gauge, 150.0)
    check = judge_surface("face", [face], EXAMPLE)
    assert check.end_float_steps == 2
    assert check.outcome == "unclear"
    assert "one indicator cannot tell" in check.reason


@pytest.mark.slow
def test_smooth_and_dented_faces_seldom_seem_to_jump() -> None:
    seeming = 0
    for number in range(60):
        rng = np.random.default_rng([4, number])
        seeming += bool(find_jumps(simulate(rng, random_case(rng)).sweep, Signs()))
    assert seeming <= 3
