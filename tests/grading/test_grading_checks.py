from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from contract.gauge import GaugeFacts
from contract.result import SurfaceCheck
from grading.evidence import Sweep
from grading.kinds.surfaces import judge_surface
from grading.surface.harmonics import Harmonic
from tests.grading.samples import DATA, EXAMPLE, FINE, method, sweep

SIMPLE = method(decision={"rule": "simple-acceptance"})


def judged(*sweeps: Sweep, on: date | None = None) -> SurfaceCheck:
    return judge_surface("rim", sweeps, EXAMPLE, on=on)


def test_an_offset_circle_has_a_run_out_of_twice_its_offset() -> None:
    # Circular run-out (ISO 1101:2017, 17.15, definition): a true circle on an axis 0.09 mm off reads
    # r + e cos(angle) to first order in e / r, so highest minus lowest is 2 e (any textbook of metrology).
    check = judged(sweep(0.09))
    assert check.outcome == "within"
    assert check.true_tir_mm == pytest.approx(0.18, abs=0.002)
    assert check.eccentricity_mm == pytest.approx(0.09, abs=0.0005)
    assert check.high_spot_deg == pytest.approx(41.0, abs=0.5)
    assert check.tir_mm is not None
    assert check.tir_mm >= 0.18  # noise and steps push the bare range up
    assert check.u_expanded_mm is not None
    assert 0.0 < check.u_expanded_mm < 0.01
    assert check.tilt_mrad is None


@pytest.mark.parametrize(("wild_mm", "outcome"), [(0.01, "within"), (0.06, "invalid")])
def test_readings_that_jump_up_and_down_are_never_called_within(wild_mm: float, outcome: str) -> None:
    calm = sweep(0.09)
    jumps = wild_mm * (-1.0) ** np.arange(calm.value_mm.size)
    check = judged(replace(calm, value_mm=calm.value_mm + jumps))
    assert check.outcome == outcome
    assert ("readings scatter by 0.06" in check.reason) == (outcome == "invalid")
    assert (check.true_tir_mm is None) == (outcome == "invalid")


def test_a_tilted_face_reads_twice_radius_times_tangent() -> None:
    tilt, radius = 0.0006, 150.0  # TIR = 2 r tan(tilt), plane geometry
    check = judge_surface("face", [sweep(radius * math.tan(tilt), surface="face")], EXAMPLE)
    assert check.true_tir_mm == pytest.approx(2 * radius * math.tan(tilt), abs=0.002)
    assert check.tilt_mrad == pytest.approx(0.6, abs=0.005)
    assert check.end_float_steps is not None


@pytest.mark.parametrize(
    ("radius_mm", "outcome"), [(15.0, "unclear"), (60.0, "unclear"), (140.0, "within"), (300.0, "within")]
)
def test_a_face_read_too_near_the_axis_hides_no_tilt(radius_mm: float, outcome: str) -> None:
    """0.18 mm at the method's 150 mm is sound; at 60 mm and nearer it would be over further out."""
    check = judge_surface("face", [replace(sweep(0.09, surface="face"), radius_mm=radius_mm)], EXAMPLE)
    assert check.outcome == outcome
    assert (f"read at {radius_mm:g} mm from the axis" in check.reason) == (outcome == "unclear")


@pytest.mark.parametrize(
    ("eccentricity", "outcome"), [(0.12, "within"), (0.1395, "unclear"), (0.1405, "unclear"), (0.16, "over")]
)
def test_three_answers_and_a_sentence_that_says_why(eccentricity: float, outcome: str) -> None:
    check = judged(sweep(eccentricity))
    assert check.outcome == outcome
    assert check.true_tir_mm is not None
    assert check.u_expanded_mm is not None
    for part in (f"{check.true_tir_mm:.3f} mm", f"± {check.u_expanded_mm:.3f} mm", "95 %", "0.28 mm"):
        assert part in check.reason
    assert check.rule == "guarded acceptance and rejection, 95 % sure"
    assert check.rule in check.reason
    assert ("with this gauge" in check.reason or "more sweep" in check.reason) == (outcome == "unclear")


def test_simple_acceptance_knows_no_unclear() -> None:
    assert [judge_surface("rim", [sweep(e)], SIMPLE).outcome for e in (0.1385, 0.1415)] == ["within", "over"]


def test_not_measured_is_missing() -> None:
    check = judged()
    assert (check.outcome, check.limit_mm, check.true_tir_mm) == ("missing", 0.28, None)


@pytest.mark.parametrize(
    ("bad", "reason"),
    [
        (sweep(0.09, readings=7), "7 readings, at least 8 are needed"),
        (sweep(0.09, covered_deg=300.0), "only 300.0 degrees were read, a full turn is needed"),
        (sweep(0.09, lost=50), "50 readings were lost (11%), at most 5% may be"),
        (sweep(0.09, readings=0), "0 readings"),
        (replace(sweep(0.09), value_mm=np.full(400, np.nan)), "some readings are no numbers"),
    ],
)
def test_data_that_is_not_good_enough_is_invalid_with_its_reason(bad: Sweep, reason: str) -> None:
    check = judged(bad)
    assert check.outcome == "invalid"
    assert reason in check.reason
    assert (check.true_tir_mm, check.p_over, check.harmonics) == (None, None, None)


def test_a_hand_taken_turn_of_eight_readings_is_enough() -> None:
    angle = np.arange(0.0, 361.0, 45.0)
    value = np.rint(9 * np.cos(np.deg2rad(angle))) / 100
    dial = GaugeFacts("typed", 0.01, 0.015)
    eight = Sweep("rim", angle, value, np.full(9, 2.0), np.zeros(9), dial)
    check = judged(eight)
    assert check.outcome in ("within", "unclear")
    assert check.u_expanded_mm is not None
    assert check.u_expanded_mm > 0.01  # eight readings hide much
    assert check.largest_gap_deg == pytest.approx(45.0)


def test_the_latest_valid_sweep_counts_and_the_invalid_one_is_on_record() -> None:
    check = judged(sweep(0.09), sweep(0.1, covered_deg=200.0))
    assert check.outcome == "within"
    assert check.attempts is not None
    assert [part.counted for part in check.attempts] == [True, False]
    assert check.attempts[1].reason is not None
    assert check.warnings[0].startswith("a later attempt does not count: only 200.0 degrees")
    assert check.sweeps == 1


def test_what_shows_more_than_the_limit_after_a_valid_sweep_and_does_not_count_is_taken_again() -> None:
    """It may be another damper's, or the one that was read before may be."""
    check = judged(sweep(0.09), sweep(0.16, covered_deg=200.0))
    assert check.outcome == "unclear"
    assert "sweep 2 does not count, and showed 0.3" in check.reason
    assert check.repeats_needed is None
    assert judged(sweep(0.16, covered_deg=200.0), sweep(0.09)).outcome == "within"
    assert judged(sweep(0.09), sweep(0.16, covered_deg=200.0), sweep(0.09)).outcome == "within"


@pytest.mark.slow
def test_repeats_that_agree_are_combined_and_only_the_random_part_shrinks() -> None:
    coarse = GaugeFacts("indicator-1", 0.01, 0.0005)
    one = judged(sweep(0.09, readings=90, noise_mm=0.004, gauge=coarse))
    four = judged(*(sweep(0.09, seed=s, readings=90, noise_mm=0.004, gauge=coarse) for s in range(4)))
    assert (one.sweeps, four.sweeps) == (1, 4)
    assert one.u_expanded_mm is not None
    assert four.u_expanded_mm is not None
    assert four.u_expanded_mm < 0.75 * one.u_expanded_mm
    assert four.attempts is not None
    assert [part.counted for part in four.attempts] == [True] * 4


def test_sweeps_that_disagree_are_unclear_until_one_is_outnumbered() -> None:
    check = judged(sweep(0.16), sweep(0.09))
    assert (check.outcome, check.sweeps, check.looks) == ("unclear", 2, 2)
    assert "the sweeps disagree (0.320, 0.180 mm" in check.reason
    assert judged(sweep(0.16), sweep(0.09), sweep(0.09, seed=2)).outcome == "unclear"
    check = judged(sweep(0.16), *[sweep(0.09, seed=seed) for seed in (2, 3, 4)])
    assert (check.outcome, check.sweeps, check.looks) == ("within", 3, 4)
    assert check.warnings[0].startswith("sweep 1 (0.320 mm) differs from 3 others that agree")


def test_an_over_is_never_outvoted_by_one_repeat() -> None:
    for last in (sweep(0.10), sweep(0.09)):
        assert judged(sweep(0.155), sweep(0.155, seed=2), last).outcome == "unclear"
    off = replace(sweep(0.1), value_mm=np.full(400, 0.312))
    check = judged(sweep(0.155), sweep(0.155, seed=2), off)
    assert (check.outcome, check.sweeps) == ("over", 2)
    assert check.warnings[0].startswith("a later attempt does not count: the readings move by 0.000 mm only")


def test_an_over_is_not_outvoted_by_a_coarser_gauge_that_agrees_within_its_doubt() -> None:
    dial = GaugeFacts("dial-2", 0.01, 0.015)
    over, within = sweep(0.144), sweep(0.131, gauge=dial, noise_mm=0.002, seed=3)
    assert (judged(over).outcome, judged(within).outcome) == ("over", "within")
    check = judged(over, within)
    assert check.outcome == "unclear"
    assert "sweep 1 with indicator-1 is over by itself (0.288 mm)" in check.reason
    assert judged(over, within, over).outcome == "over"


def test_sweeps_that_disagree_and_are_all_over_are_over() -> None:
    assert judged(sweep(0.16), sweep(0.2)).outcome == "over"


def test_sweeps_of_another_gauge_are_not_combined() -> None:
    check = judged(sweep(0.09, gauge=replace(FINE, id="indicator-2")), sweep(0.09, seed=2))
    assert check.sweeps == 1


def test_a_method_may_have_the_latest_sweep_count_alone() -> None:
    alone = method(rim={**DATA["rim"], "repeats": "latest"})
    check = judge_surface("rim", [sweep(0.09), sweep(0.09, seed=2)], alone)
    assert check.sweeps == 1
    assert check.attempts is not None
    assert [part.counted for part in check.attempts] == [False, True]


def test_an_overdue_calibration_is_said() -> None:
    assert judged(sweep(0.09), on=date(2027, 6, 2)).warnings == (
        "the calibration of indicator-1 was due on 2027-06-01",
    )
    assert judged(sweep(0.09), on=date(2027, 6, 1)).warnings == ()


def test_the_harmonics_of_the_result_are_those_of_the_estimate() -> None:
    check = judged(sweep(0.09, noise_mm=0.0002))
    assert check.harmonics is not None
    first = check.harmonics[0]
    found = Harmonic(first.order, first.amplitude_mm, first.phase_deg)
    assert found.order == 1
    assert found.amplitude_mm == check.eccentricity_mm
    assert found.phase_deg == check.high_spot_deg
