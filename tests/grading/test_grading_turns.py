"""What was told as a turn and is none is seen; a whole turn is left alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from contract.gauge import GaugeFacts
from tests.grading.adverse.day import LIMIT_MM
from tests.grading.adverse.study import SEED, grade
from tests.grading.swept import COARSE, FINE, eccentric, judged, said, swept, turn


@pytest.mark.parametrize("high_deg", [0.0, 40.0, 90.0, 130.0])
def test_half_a_turn_counted_as_one_is_seen(high_deg: float) -> None:
    """Twice the counts: 360 degrees told are 180 turned. Where both ends stand at one level, their slopes
    give it away."""
    told = turn()
    value = 0.16 * np.cos(np.deg2rad(told / 2 - high_deg))
    assert judged(swept(value, told)).outcome == "invalid"


@pytest.mark.parametrize(("readings", "gauge"), [(300, FINE), (900, COARSE), (90, FINE)])
def test_half_a_turn_whose_ends_meet_is_seen_by_its_form(readings: int, gauge: GaugeFacts) -> None:
    """First and third order are such that height and slope are those of half a turn earlier."""
    told = turn(readings)
    t = np.deg2rad(told / 2)
    value = 0.1 * (np.cos(t) - np.cos(3 * t)) + 0.06 * (np.sin(t) - np.sin(3 * t) / 3) + 0.03 * np.cos(2 * t)
    check = judged(swept(value, told, gauge))
    assert check.outcome == "invalid"
    assert "more like half a turn than a whole one" in check.reason


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "number"),
    [("marks, half a turn told to be one", 7), ("marks, 2/3 or 3/4 of a turn told to be one", 14)],
)
def test_part_of_a_turn_from_mark_to_mark_is_seen_by_its_form(name: str, number: int) -> None:
    """Marks lie nearer than is told; the ends meet, or readings are too few to say."""
    found = grade(SEED, name, number)
    assert found.outcome == "invalid"
    assert "more like half a turn than a whole one" in found.reason


@pytest.mark.slow
@pytest.mark.parametrize(
    ("number", "why"),
    [(10, "the end of the gauge's travel, or a plunger that sticks"), (88, "bar two turns")],
)
def test_a_turn_by_marks_whose_ends_do_not_meet_is_not_within(number: int, why: str) -> None:
    """By 16 and by 30 um: no fault, and no turn that could be trusted."""
    found = grade(SEED, "marks, 2/3 or 3/4 of a turn told to be one", number)
    assert found.truth_mm > LIMIT_MM
    assert found.outcome == "unclear"
    assert why in found.reason


def test_one_turn_by_marks_says_that_it_takes_them_where_they_are_told() -> None:
    said = "marks that lie elsewhere than is told, where what was read meets by chance"
    once, twice = turn(300, 360.0), turn(600, 720.0)
    for angle, u_deg, is_said in ((once, 6.0, True), (once, 0.05, False), (twice, 6.0, False)):
        sweep = swept(eccentric(angle, 0.2), angle)
        u = np.where(np.mod(angle, 120.0) < 1.0, min(u_deg, 0.5), u_deg)
        excluded = judged(replace(sweep, angle_u_deg=u)).excluded
        assert (said in (excluded or ())) is is_said


@pytest.mark.parametrize("order", [2, 4])
def test_a_whole_turn_of_even_orders_is_no_half(order: int) -> None:
    told = turn(300)
    value = 0.1 * np.cos(order * np.deg2rad(told)) + 0.01 * np.cos(2 * order * np.deg2rad(told))
    assert judged(swept(value, told)).outcome == "within"


def test_turns_that_lie_further_each_time_are_a_wrong_scale() -> None:
    told = turn(1500, 740.0)
    assert "differs from the next" in said(swept(eccentric(told / 1.015, 0.25), told))
    assert said(swept(eccentric(told, 0.25), told)) == ""


@pytest.mark.slow
@pytest.mark.parametrize("turns", [1.5, 2.0, 3.0, 5.0])
@pytest.mark.parametrize("way", [1.0, -1.0])
def test_turns_that_lie_on_each_other_close(turns: float, way: float) -> None:
    """Each pass is held against the one a turn before, however many there are."""
    angle = way * np.linspace(0.0, 360.0 * turns, round(300 * turns))
    check = judged(swept(eccentric(angle, 0.2), angle))
    assert check.outcome == "within", check.reason
    assert check.closure_mm == pytest.approx(0.0, abs=0.001)


@pytest.mark.slow
def test_what_a_second_turn_differs_by_is_counted_and_is_no_half_turn() -> None:
    """By 5 um, as where the crank shifts in its bearings from turn to turn: two turns are explained by halves
    of one better than by a whole, and all of the surface was read."""
    angle, one = turn(1200, 726.0), turn()
    differs = 0.005 * np.cos(np.deg2rad(angle) - 0.7) / (1.0 + np.exp((360.0 - angle) / 20.0))
    two = swept(eccentric(angle, 0.274) + differs, angle)
    check = judged(two)
    assert check.outcome == "unclear", check.reason
    assert check.turn_to_turn_mm == pytest.approx(0.0025, abs=0.0004)
    assert (check.u_expanded_mm or 0.0) > 0.009
    # A turn alone beside it tells nothing else of that, whichever came first.
    alone = swept(eccentric(one, 0.274), one)
    assert judged(alone).outcome == "within"
    assert {judged(two, alone).outcome, judged(alone, two).outcome} == {"unclear"}


@pytest.mark.slow
def test_what_a_second_turn_differs_by_is_counted_from_mark_to_mark_too() -> None:
    """Marks 60 degrees apart, known to 1 degree, and next to nothing is known between them."""
    angle = turn(1200, 726.0)
    u_deg = 1.0 + 12.0 * np.abs(np.sin(np.deg2rad(3.0 * angle)))
    differs = np.where(angle >= 350.0, 0.006, 0.0) * np.cos(np.deg2rad(angle) - 0.7)
    checks = [
        judged(replace(swept(value, angle), angle_u_deg=u_deg, angles_run_on=True))
        for value in (eccentric(angle, 0.2), eccentric(angle, 0.2) + differs)
    ]
    alike, apart = (check.turn_to_turn_mm or 0.0 for check in checks)
    assert alike < 0.001
    assert apart == pytest.approx(0.003, abs=0.001)
    assert (checks[1].u_expanded_mm or 0.0) > (checks[0].u_expanded_mm or 0.0) + 0.004
