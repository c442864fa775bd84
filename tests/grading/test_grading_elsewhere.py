"""A narrow dent that another turn alone has met is no `within`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from contract.result import SurfaceCheck
from grading.evidence import Sweep
from tests.grading.adverse.study import grade
from tests.grading.swept import eccentric, judged, swept, turn

MET_MM = 0.05


@pytest.fixture(scope="module")
def two_turns() -> Sweep:
    """0.25 mm from mark to mark, 60 readings a turn; the first turn is fitted."""
    angle = turn(121, 720.0)
    sweep = swept(eccentric(angle, 0.25), angle)
    return replace(sweep, angle_u_deg=np.where(np.mod(angle, 120.0) < 1.0, 0.5, 6.0))


def with_one(sweep: Sweep, which: int, by_mm: float) -> SurfaceCheck:
    value = sweep.value_mm.copy()
    value[which] += by_mm
    return judged(replace(sweep, value_mm=value))


def test_two_turns_without_it_are_within(two_turns: Sweep) -> None:
    assert judged(two_turns).outcome == "within"


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_reading_beyond_all_others_is_asked_about(two_turns: Sweep, way: float) -> None:
    second = two_turns.value_mm[62:118]
    crest = 62 + int(np.argmax(way * second))
    check = with_one(two_turns, crest, way * MET_MM)
    assert check.outcome == "unclear"
    assert "on another turn a single reading stands out" in check.reason


def test_one_that_makes_nothing_over_is_not(two_turns: Sweep) -> None:
    flank = 62 + int(np.argmin(np.abs(two_turns.value_mm[62:118] - np.mean(two_turns.value_mm))))
    assert with_one(two_turns, flank, MET_MM).outcome == "within"


@pytest.mark.parametrize("way", [1.0, -1.0])
@pytest.mark.parametrize("met", [2, 3])
def test_so_are_several_that_the_fitted_turn_passed_over(two_turns: Sweep, way: float, met: int) -> None:
    """The dial had shown 0.30 and more, and it was `within` by 0.25."""
    crest = 62 + int(np.argmax(way * two_turns.value_mm[62:118]))
    value = two_turns.value_mm.copy()
    value[crest : crest + met] += way * MET_MM
    check = judged(replace(two_turns, value_mm=value))
    assert check.outcome == "unclear"
    assert "on another turn" in check.reason


def test_one_alone_in_a_hole_says_nothing() -> None:
    """A cable that was out for a turn, and in for one reading: there is nothing that it goes beyond."""
    angle = np.concatenate([np.arange(0.0, 361.0, 2.0), [560.0], np.arange(760.0, 1000.0, 2.0)])
    value = eccentric(angle, 0.25)
    value[181] += MET_MM
    u_deg = np.where(np.mod(angle, 120.0) < 1.0, 0.5, 6.0)
    assert judged(replace(swept(value, angle), angle_u_deg=u_deg)).outcome in ("within", "unclear")


@pytest.mark.slow
def test_a_dent_that_the_fitted_turn_hurried_over_is_not_within() -> None:
    """0.300 mm were read as 0.261, and one of 308 readings in four turns showed it."""
    found = grade(20261130, "tagger, 1.5-5 turns", 70)
    assert found.outcome == "unclear"
    assert "(0.977 mm at 313 degrees)" in found.reason


@pytest.mark.slow
def test_a_dent_that_one_reading_met_as_the_crank_hurried_is_no_spike() -> None:
    """1.04 degrees wide, 0.86 as the marks have it: it was left out, and 0.300 mm read as 0.172, `within`."""
    found = grade(20261201, "dents 1-5 deg, 600-3000 readings", 54)
    assert found.outcome == "invalid"
    assert "does not fit all others: -0.160 mm at 238 degrees" in found.reason
