"""Two indicators on one face: float is taken off where both prove it, and never otherwise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from contract.result import SurfaceCheck
from grading.kinds.surfaces import judge_surface
from grading.signs.opposite import half_difference, half_sum
from tests.grading.adverse.study import grade
from tests.grading.faces import Two, edges, plane
from tests.grading.samples import EXAMPLE


def judged(*two: Two) -> SurfaceCheck:
    return judge_surface("face", [one.sweep() for one in two], EXAMPLE)


def alone(two: Two) -> SurfaceCheck:
    return judge_surface("face", [replace(two.sweep(), opposite=None)], EXAMPLE)


def test_reversal_formulas_give_back_face_and_float() -> None:
    """The formulas of Donaldson's reversal, face motion (from memory): (T1 - T2) / 2 and (T1 + T2) / 2."""
    face, moved = 0.105 + 0.02j, -0.03 + 0.01j
    one, other = face + moved, -face + moved
    assert half_difference(one, other) == pytest.approx(face)
    assert half_sum(one, other) == pytest.approx(moved)


@pytest.mark.slow
def test_float_that_both_show_is_taken_off() -> None:
    """One indicator cannot tell; two prove it, and the figures are those of the face."""
    two = Two(plane(0.24), floats=((100.0, -0.07), (250.0, 0.07)))
    assert alone(two).outcome == "unclear"
    check = judged(two)
    assert check.outcome == "within", check.reason
    assert check.true_tir_mm == pytest.approx(0.24, abs=check.u_expanded_mm)
    assert check.tir_mm is not None
    assert check.tir_mm > 0.25  # as the dial showed it
    assert check.end_float_steps == 2
    assert check.level_steps is not None
    assert [round(step.angle_deg, -1) for step in check.level_steps] == [100.0, 250.0]
    assert [step.height_mm for step in check.level_steps] == pytest.approx([-0.07, 0.07], abs=0.002)
    assert all(step.is_float for step in check.level_steps)
    assert check.opposite is not None
    assert check.opposite.counts
    assert check.opposite.float_mm == pytest.approx(0.07, abs=0.002)
    assert check.opposite.half_difference_mm == pytest.approx(0.12, abs=0.001)
    assert check.tilt_mrad == pytest.approx(0.12 / 150 * 1000, rel=0.01)
    assert any("taken off" in line.source for line in check.budget or ())


@pytest.mark.slow
@pytest.mark.parametrize("by_mm", [0.15, -0.15])
def test_a_float_that_stays_need_not_be_repeated_with_two(by_mm: float) -> None:
    """The turn of one does not close; that of the face does."""
    two = Two(plane(0.2), floats=((140.0, by_mm),))
    assert alone(two).outcome == "invalid"
    check = judged(two)
    assert check.outcome == "within", check.reason
    assert check.true_tir_mm == pytest.approx(0.2, abs=check.u_expanded_mm)


@pytest.mark.slow
def test_over_stays_over_without_its_float() -> None:
    check = judged(Two(plane(0.31), floats=((100.0, -0.06), (250.0, 0.06))))
    assert check.outcome == "over", check.reason
    assert check.true_tir_mm == pytest.approx(0.31, abs=check.u_expanded_mm)


# The face reads 0.31 or more by itself; what is wrong with the second indicator must not hide it.
OVER = plane(0.31)
HIDING = ((20.0, -0.06), (80.0, 0.06))
WRONG = {
    "at a right angle": Two(OVER, HIDING, apart_deg=90.0),
    "at a third of the turn": Two(OVER, HIDING, apart_deg=240.0),
    "beside the first": Two(OVER, HIDING, apart_deg=5.0),
    "counting the wrong way": Two(OVER, HIDING, sense=-1.0),
    "beside it, counting the wrong way": Two(OVER, HIDING, apart_deg=0.0, sense=-1.0),
    "near the axis": Two(OVER, HIDING, scale=0.3),
    "off by 20 degrees": Two(OVER, HIDING, apart_deg=200.0),
    "with two edges opposite each other": Two(
        lambda a: plane(0.27)(a) + edges((60.0, 0.05), (150.0, -0.05), (240.0, 0.05), (330.0, -0.05))(a)
    ),
    "with two edges nearly opposite each other": Two(
        lambda a: plane(0.27)(a) + edges((60.0, 0.05), (150.0, -0.05), (246.0, 0.05), (336.0, -0.05))(a)
    ),
    "with an edge at the start": Two(
        lambda a: plane(0.27)(a) + edges((2.0, 0.05), (150.0, -0.05), (182.0, 0.05), (330.0, -0.05))(a)
    ),
    "off the surface": Two(OVER, scale=0.0),
    "on a true face, floating once around": Two(plane(0.0), moving=plane(0.31)),
    "once around against the tilt": Two(OVER, moving=plane(0.06, 221.0)),
    "on a smaller radius": Two(OVER, scale=0.75),
    "on a larger radius": Two(plane(0.26), scale=1.2),
    "a knock at both": Two(plane(0.26), knocks=((0, 20.0, 0.05), (0, 70.0, -0.05), (1, 21.0, -0.05))),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", WRONG)
def test_a_second_indicator_that_is_wrong_makes_no_over_within(name: str) -> None:
    two = WRONG[name]
    crank = np.linspace(0.0, 360.0, 3600)
    over = float(np.ptp(two.face(crank))) > 0.28
    check = judged(two)
    assert check.outcome != "within" or not over, (check.reason, check.warnings)
    assert check.outcome != "over" or over, (check.reason, check.warnings)


def test_two_that_read_different_figures_of_one_face_are_no_check_of_it() -> None:
    """Which is true, nobody can say."""
    check = judged(Two(plane(0.24), scale=0.75))
    assert check.outcome == "invalid"
    assert "mm of one face; are they opposite each other" in check.reason
    assert check.opposite is not None
    assert check.opposite.counts


def test_a_face_that_is_over_by_each_stays_over() -> None:
    assert judged(Two(plane(0.5), scale=0.8)).outcome == "over"


def test_a_jump_beside_a_second_indicator_that_does_not_count_is_nobody_s() -> None:
    two = Two(plane(0.2), floats=((100.0, -0.06), (250.0, 0.06)), knocks=((1, 200.0, 0.1),))
    assert alone(two).outcome != "invalid"
    check = judged(two)
    assert check.outcome == "invalid"
    assert "the level jumped by -0.06" in check.reason
    assert "end float cannot be told by one" in check.reason
    still = judged(Two(plane(0.2), knocks=((1, 200.0, 0.1),)))
    assert still.outcome == "within", still.reason


@pytest.mark.slow
@pytest.mark.parametrize(
    ("number", "why"),
    [
        (1, "end float cannot be told by one"),
        (13, "mm of one face"),
        (63, "moved with it but not alike"),
        (101, "moved with it but not alike"),
    ],
)
def test_a_second_in_the_wrong_place_is_seen(number: int, why: str) -> None:
    """Each was a figure that did not hold the truth, three of them `over` on a face that is not."""
    found = grade(20261130, "end float, second misplaced", number)
    assert found.outcome == "invalid"
    assert why in found.reason
