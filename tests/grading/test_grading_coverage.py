"""Covered angle, gaps and closure, and what they make of a sweep."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.runout import SweepRules
from grading.evidence import F64, Sweep
from grading.runout.ways import wander_of
from grading.surface.coverage import angles_run_on, closure_mm, judge_coverage, measure_coverage
from tests.grading.samples import FINE

RULES = SweepRules()


def of(angle_deg: F64, value_mm: F64 | None = None) -> Sweep:
    """A sweep of these angles."""
    value = np.zeros(angle_deg.size) if value_mm is None else value_mm
    return Sweep("rim", angle_deg, value, np.full(angle_deg.size, 0.1), np.zeros(angle_deg.size), FINE)


def test_a_sweep_past_its_start_closes() -> None:
    angle = np.arange(0.0, 366.0)
    found = measure_coverage(of(angle, 0.1 * np.cos(np.deg2rad(angle)) + 0.002 * angle / 360.0))
    assert found.covered_deg == pytest.approx(365.0)
    assert found.largest_gap_deg == pytest.approx(1.0)
    assert found.closure_mm == pytest.approx(0.002, abs=1e-12)
    assert judge_coverage(of(angle), RULES) == []


def test_barred_the_other_way_it_closes_alike() -> None:
    angle = -np.arange(0.0, 366.0)
    found = measure_coverage(of(angle, 0.1 * np.cos(np.deg2rad(angle)) - 0.002 * angle / 360.0))
    assert found.closure_mm == pytest.approx(0.002, abs=1e-12)
    assert judge_coverage(of(angle), RULES) == []


def test_twelve_typed_stations_are_a_full_turn() -> None:
    assert judge_coverage(of(np.arange(0.0, 360.0, 30.0)), RULES) == []


def test_from_mark_to_mark_a_slow_gauge_may_lack_a_reading_at_either_end() -> None:
    """128 readings while the crank stood at the marks and went on between them, 2 to 358 degrees."""
    moving = [np.linspace(low + 2.0, low + 118.0, 16) for low in (0.0, 120.0, 240.0)]
    standing = [np.full(40, mark) + np.linspace(0.0, 0.1, 40) for mark in (120.0, 240.0)]
    angle = np.sort(np.concatenate([*moving, *standing]))
    by_marks = replace(of(angle), angle_u_deg=np.where(angle % 120.0 < 1.0, 0.5, 8.0))
    assert angles_run_on(by_marks)
    assert judge_coverage(by_marks, RULES) == []
    assert "a full turn is needed" in judge_coverage(of(angle), RULES)[0]
    short = angle < 340.0
    assert (
        judge_coverage(
            replace(
                by_marks,
                angle_deg=angle[short],
                value_mm=by_marks.value_mm[short],
                angle_u_deg=by_marks.angle_u_deg[short],
                time_s=by_marks.time_s[short],
            ),
            RULES,
        )
        != []
    )


def test_no_reading_at_all_is_no_turn() -> None:
    assert judge_coverage(of(np.zeros(0)), RULES) != []
    assert closure_mm(np.arange(0.0, 360.0, 30.0), np.zeros(12)) is None


def test_going_back_over_a_gap_fills_it() -> None:
    gap = np.concatenate([np.arange(0.0, 100.0), np.arange(170.0, 366.0)])
    assert "a gap of 71.0 degrees" in judge_coverage(of(gap), RULES)[0]
    assert judge_coverage(of(np.append(gap, np.arange(165.0, 95.0, -1.0))), RULES) == []


@pytest.mark.parametrize(
    ("angle", "words"),
    [
        (np.arange(0.0, 420.0, 60.0), "7 readings, at least 8 are needed"),
        (np.arange(0.0, 350.0), "only 349.0 degrees were read, a full turn is needed"),
        (np.empty(0), "0 readings"),
        (np.array([np.nan] * 9), "no numbers"),
    ],
)
def test_what_is_not_good_enough_is_said(angle: F64, words: str) -> None:
    assert any(words in reason for reason in judge_coverage(of(angle), RULES))


def test_a_base_that_moved_does_not_close() -> None:
    angle = np.arange(0.0, 366.0)
    assert "differs by +0.050 mm" in judge_coverage(of(angle, np.where(angle > 200.0, 0.05, 0.0)), RULES)[0]


@given(start=st.floats(-1000.0, 1000.0), step=st.floats(0.2, 40.0))
def test_the_gaps_around_the_turn_hold_whatever_the_origin(start: float, step: float) -> None:
    angle = start + np.arange(0.0, 370.0, step)
    found = measure_coverage(of(angle))
    assert found.largest_gap_deg <= step + 1e-5
    assert judge_coverage(of(angle), RULES) == []


def moved(by_mm: float, step_mm: float, whole_deg: float) -> Sweep:
    """A rim that lies flat at its start, read to whole_deg; half-way the level moves by so much."""
    angle: F64 = np.arange(0.0, whole_deg)
    value = 0.1 * np.cos(np.deg2rad(angle)) + np.where(angle > 180.0, by_mm, 0.0) + 0.4 * step_mm
    u_deg, time_s = np.full(angle.size, 0.1), 0.05 * np.arange(angle.size, dtype=np.float64)
    gauge = replace(FINE, resolution_mm=step_mm)
    return Sweep("rim", angle, np.round(value / step_mm) * step_mm, u_deg, time_s, gauge)


def test_ends_that_a_coarse_display_rounds_apart_are_no_drift() -> None:
    """2 um more, and the flat end of a turn that closes at a mark is shown a whole step higher."""
    found = measure_coverage(moved(0.002, 0.01, 360.0))
    assert found.closure_mm == pytest.approx(0.01, abs=0.002)
    level = wander_of(found, RULES)
    assert level.wander_mm == 0.0
    assert RULES.drift_mm <= level.drift_mm < 0.0095


def test_a_second_pass_that_one_step_of_the_display_halves_is_no_drift() -> None:
    """2 um more on a slope: the second half of the pass is shown a step higher, the first is not."""
    angle = np.arange(0.0, 366.0)
    value = np.where(angle >= 363.0, 0.01, 0.0)
    found = measure_coverage(replace(of(angle, value), gauge=replace(FINE, resolution_mm=0.01)))
    assert found.closure_mm == pytest.approx(0.005)
    assert wander_of(found, RULES).wander_mm == 0.0


@pytest.mark.parametrize("whole_deg", [360.0, 366.0])
@pytest.mark.parametrize(("by_mm", "step_mm"), [(0.006, 0.0001), (0.025, 0.01)])
def test_a_level_that_moved_wanders(by_mm: float, step_mm: float, whole_deg: float) -> None:
    level = wander_of(measure_coverage(moved(by_mm, step_mm, whole_deg)), RULES)
    assert level.wander_mm == pytest.approx(by_mm, abs=0.0005 + step_mm / 2)
    assert level.drift_mm >= level.wander_mm


@given(steps=st.integers(1, 9), more=st.integers(2, 20))
def test_more_readings_of_the_same_steps_are_rounded_alike(steps: int, more: int) -> None:
    """One reading is rounded by itself, and that is in its uncertainty already; of many, rounding adds up to
    one of all steps shown."""
    step_mm = 0.01
    angle = np.append(np.arange(0.0, 360.0), np.linspace(360.0, 365.0, steps))
    value = np.append(np.zeros(360), step_mm * np.arange(steps))
    found = [
        measure_coverage(
            replace(of(np.repeat(angle, n), np.repeat(value, n)), gauge=replace(FINE, resolution_mm=step_mm))
        )
        for n in (1, more, 2 * more)
    ]
    one, few, many = (each.rounding_u_mm for each in found)
    assert one < few < many < step_mm / 6**0.5 / steps
    assert many == pytest.approx(step_mm / 6**0.5 / steps, rel=0.15)
    assert one == 0.0 or steps > 1
    assert found[2].closure_u_mm <= found[1].closure_u_mm
