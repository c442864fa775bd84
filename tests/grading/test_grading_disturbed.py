"""What disturbs a sweep has its name, its place and its size, and what it comes to."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from contract.terms import Surface
from grading.evidence import F64, Sweep
from grading.kinds.surfaces import judge_surface
from tests.grading.samples import EXAMPLE, sweep

pytestmark = pytest.mark.slow
ANGLE: F64 = np.linspace(0.0, 370.0, 400)


def moved(by: F64, surface: Surface = "rim") -> Sweep:
    """An offset circle of 0.16 mm whose level moved so."""
    made = sweep(0.08, surface=surface, covered_deg=370.0)
    shown: F64 = np.asarray(np.round(made.value_mm + by, 3), dtype=np.float64)
    return replace(made, value_mm=shown)


@pytest.mark.parametrize("surface", ["rim", "face"])
def test_a_base_that_slips_far_is_placed(surface: Surface) -> None:
    check = judge_surface(surface, [moved(np.where(ANGLE >= 200, 0.1, 0.0), surface)], EXAMPLE)
    assert check.outcome == "invalid"
    assert "the second pass over the start differs by" in check.reason
    (by,) = re.findall(r"the level jumped by (\S+) mm at 200 degrees and stayed", check.reason)
    assert float(by) == pytest.approx(0.1, abs=0.003)
    assert ("slid along its axis" in check.reason) is (surface == "face")


def test_a_jump_that_is_no_proof_is_told_by_place_and_size() -> None:
    check = judge_surface("rim", [moved(np.where((ANGLE >= 100) & (ANGLE < 220), 0.03, 0.0))], EXAMPLE)
    assert check.level_steps is not None
    assert [step.angle_deg for step in check.level_steps] == pytest.approx([100, 220], abs=1)
    assert [step.height_mm for step in check.level_steps] == pytest.approx([0.03, -0.03], abs=0.003)
    assert not any(step.is_float for step in check.level_steps)
    said = [warning for warning in check.warnings if warning.startswith("the level jumped by")]
    assert [warning.split(" mm at ")[1] for warning in said] == ["100 degrees", "221 degrees"]


def test_drift_is_told_by_what_the_second_pass_shows() -> None:
    check = judge_surface("rim", [moved(0.012 * ANGLE / 360.0)], EXAMPLE)
    (said,) = [warning for warning in check.warnings if "second pass" in warning]
    (by,) = re.findall(r"differs by (\S+) mm: drift", said)
    assert float(by) == pytest.approx(0.012, abs=0.002)


@pytest.mark.parametrize("number", [0, 1, 2, -3, -2, -1])
def test_a_spike_at_either_end_of_a_sweep_is_no_surface(number: int) -> None:
    """The first reading of a plunger that is just set down, the last one before it is taken off."""
    by = np.zeros(400)
    by[number] = 0.3
    check = judge_surface("rim", [moved(by)], EXAMPLE)
    assert check.outcome == "within"
    assert check.true_tir_mm == pytest.approx(0.16, abs=0.003)
    assert any(warning.startswith("1 single reading was left out") for warning in check.warnings)


def test_a_spike_at_the_end_of_a_turn_that_nothing_passes_twice_is_read_again() -> None:
    turn = moved(np.where(np.arange(400) == 0, 0.3, 0.0))
    kept = np.arange(0, 385, 6)  # 5.6 degrees apart, to 356
    once = replace(
        turn, angle_deg=ANGLE[kept], value_mm=turn.value_mm[kept], angle_u_deg=turn.angle_u_deg[kept],
        time_s=turn.time_s[kept],
    )  # fmt: skip
    assert "read that place again" in judge_surface("rim", [once], EXAMPLE).reason


def test_a_dent_that_the_start_cuts_in_two_is_no_spike() -> None:
    """Two readings before the end have seen its other half."""
    away = np.abs((ANGLE + 180.0) % 360.0 - 180.0)
    dent = 0.15 * np.clip(1.0 - away / 2.5, 0.0, None)
    kept = ANGLE < 360.0
    one = moved(dent)
    once = replace(
        one, angle_deg=ANGLE[kept], value_mm=one.value_mm[kept], angle_u_deg=one.angle_u_deg[kept],
        time_s=one.time_s[kept],
    )  # fmt: skip
    check = judge_surface("rim", [once], EXAMPLE)
    assert not any("left out" in warning for warning in check.warnings)
    assert check.true_tir_mm is not None
    assert check.true_tir_mm > 0.22


def test_a_gauge_that_was_away_may_have_another_zero() -> None:
    """Where it was away readings lack: the level after it is told by the surface alone, and less well."""
    made = moved(np.zeros(400))
    kept = (ANGLE < 120) | (ANGLE > 140)
    away = replace(
        made,
        angle_deg=ANGLE[kept], value_mm=made.value_mm[kept], angle_u_deg=made.angle_u_deg[kept],
        time_s=made.time_s[kept], breaks_s=(float(made.time_s[~kept][3]),),
    )  # fmt: skip
    check, before = (judge_surface("rim", [one], EXAMPLE) for one in (away, replace(away, breaks_s=())))
    assert check.outcome == before.outcome == "within"
    assert check.u_expanded_mm is not None
    assert before.u_expanded_mm is not None
    assert check.u_expanded_mm > before.u_expanded_mm
    slid: F64 = np.where(away.angle_deg > 130.0, 0.02, 0.0)
    shown: F64 = np.asarray(np.round(away.value_mm + slid, 3), dtype=np.float64)
    check = judge_surface("rim", [replace(away, value_mm=shown)], EXAMPLE)
    assert check.outcome == "invalid"
    (by,) = re.findall(r"indicator-1 came back with another zero, by (\S+) mm at 123 degrees", check.reason)
    assert float(by) == pytest.approx(0.02, abs=0.003)
