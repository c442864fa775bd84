"""Jumps of the level: they are found, and one indicator cannot tell whose they are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from config.signs import Signs
from contract.gauge import GaugeFacts
from grading.evidence import F64, Sweep
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


def rim(value_mm: F64, angle_deg: F64, step_mm: float = 0.001) -> Sweep:
    """With noise of a micrometre, read in half a minute."""
    noise = np.random.default_rng(5).normal(0, 0.001, angle_deg.size)
    shown = np.round((value_mm + noise) / step_mm) * step_mm
    times = np.arange(angle_deg.size) / 20.0
    u_deg = np.full(angle_deg.size, 0.05)
    return Sweep("rim", angle_deg, shown, u_deg, times, GaugeFacts("indicator-1", step_mm, 0.004))


@pytest.mark.parametrize("step_mm", [0.001, 0.01])
def test_a_brief_knock_is_not_taken_for_a_dent_alone(step_mm: float) -> None:
    """0.25 without it, which one turn cannot rule out: 0.31 was said of it, `over` and certain."""
    angle = np.linspace(0.0, 366.0, 600)
    value = 0.125 * np.cos(np.deg2rad(angle - 60.0)) + 0.06 * ((angle > 57) & (angle < 65))
    sweep = rim(value, angle, step_mm)
    assert len(find_jumps(sweep, Signs())) == 2
    check = judge_surface("rim", [sweep], EXAMPLE)
    assert check.outcome == "unclear"
    assert "jumped 2 times" in check.reason
    assert check.true_tir_mm is not None
    assert check.u_expanded_mm is not None
    assert abs(check.true_tir_mm - 0.25) <= check.u_expanded_mm


def test_flanks_that_hold_a_reading_are_a_dent() -> None:
    """Of the flattest form that is fitted, and as deep."""
    angle = np.linspace(0.0, 366.0, 600)
    near = np.minimum(np.abs(angle - 61.0) / 5.0, 1.0)
    value = 0.125 * np.cos(np.deg2rad(angle - 60.0)) - 0.06 * (1 - near**4) ** 2
    assert find_jumps(rim(value, angle), Signs()) == ()


def test_a_surface_with_several_edges_has_them_of_its_own() -> None:
    angle = np.linspace(0.0, 366.0, 1200)
    notched = (np.mod(angle, 120.0) > 57) & (np.mod(angle, 120.0) < 65)
    assert find_jumps(rim(0.1 * np.cos(np.deg2rad(angle)) - 0.04 * notched, angle), Signs()) == ()


@pytest.mark.slow
def test_smooth_and_dented_faces_seldom_seem_to_jump() -> None:
    seeming = 0
    for number in range(60):
        rng = np.random.default_rng([4, number])
        seeming += bool(find_jumps(simulate(rng, random_case(rng)).sweep, Signs()))
    assert seeming <= 3
