"""Measured again until it fits: what many repeats, or another gauge, may set aside and what not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from contract.gauge import GaugeFacts
from contract.result import SurfaceCheck
from grading.evidence import Thickness, ThicknessReading
from grading.kinds.thickness import judge_thickness
from tests.grading.samples import BENCH_MM, EXAMPLE, thickness
from tests.grading.swept import COARSE, FINE, eccentric, judged, swept, turn

pytestmark = pytest.mark.slow

ANOTHER = GaugeFacts("indicator-2", 0.001, 0.004)


def outcome(*read: tuple[float, GaugeFacts]) -> SurfaceCheck:
    """Of sweeps of these TIRs by these gauges."""
    angle = turn()
    return judged(*(swept(eccentric(angle, tir_mm), angle, gauge) for tir_mm, gauge in read))


def anew(sets: int, off: Mapping[int, float] | None = None) -> list[Thickness]:
    """Up to eight sets of one casing, read anew each time: no two are the same to the last digit. off: by
    place, how much thicker it is, mm."""
    where = off or {}
    return [
        thickness(
            [value + where.get(i, 0.0) + (0.001 if i == number else 0.0) for i, value in enumerate(BENCH_MM)]
        )
        for number in range(sets)
    ]


def test_what_is_over_is_not_forgotten_for_being_long_ago() -> None:
    """Five over, then as many within as the method takes together: they outnumber none three to one."""
    check = outcome(*[(0.35, FINE)] * 5, *[(0.15, FINE)] * 8)
    assert check.outcome == "unclear", check.reason
    assert "the sweeps disagree" in (check.reason or "")


def test_the_latest_of_many_that_agree_are_taken_together() -> None:
    check = outcome(*[(0.15, FINE)] * 10)
    assert (check.outcome, check.sweeps) == ("within", 8)


@pytest.mark.parametrize("others", [(0.15, ANOTHER), (0.15, COARSE)])
def test_another_gauge_alone_never_sets_aside_what_is_over(others: tuple[float, GaugeFacts]) -> None:
    check = outcome((0.35, FINE), *[others] * 4)
    assert check.outcome == "unclear", check.reason
    assert "sweep 1 with indicator-1 is over by itself" in (check.reason or "")
    settled = outcome((0.35, FINE), *[others] * 4, (0.15, FINE))
    assert settled.outcome == "within", settled.reason


def test_one_repeat_outvotes_nothing_and_three_that_agree_do() -> None:
    worse = thickness([value + (0.22 if i < 2 else 0.0) for i, value in enumerate(BENCH_MM)])
    assert judge_thickness([worse], EXAMPLE).outcome == "over"
    check = judge_thickness([worse, thickness()], EXAMPLE)
    assert check.outcome == "unclear"
    assert check.reason.startswith("sets disagree: station 0 outer: its readings differ by 0.220 mm")
    check = judge_thickness([worse, *anew(2)], EXAMPLE)
    assert check.outcome == "unclear"
    assert "station 0 outer: 1 of 3 readings set aside" in check.warnings[0]
    assert "a reading that was set aside may be over: read again station 0 outer (" in check.reason
    assert judge_thickness([worse, *anew(3)], EXAMPLE).outcome == "within"


@pytest.mark.parametrize(("confirmed", "sets"), [(2, 3), (2, 5)])
def test_a_bulge_that_was_read_twice_is_not_outvoted_by_a_majority(confirmed: int, sets: int) -> None:
    """The plunger beside the bulge, or the neighbour's damper: three readings against each that was over."""
    check = judge_thickness([*anew(confirmed, {0: 0.35}), *anew(sets)], EXAMPLE)
    assert check.outcome == "unclear"


def test_a_slip_of_the_decimal_point_is_outvoted_by_a_majority() -> None:
    slip = thickness([value + (2.5 if i == 0 else 0.0) for i, value in enumerate(BENCH_MM)])
    check = judge_thickness([slip, *anew(2)], EXAMPLE)
    assert check.outcome == "within"


def test_what_was_put_right_and_would_have_been_over_is_told() -> None:
    first = ThicknessReading(0.0, "outer", round((BENCH_MM[0] + 0.4) * 1_000_000))
    check = judge_thickness([replace(thickness(), put_right=(first,))], EXAMPLE)
    assert check.outcome == "within"
    said = (
        f"station 0 outer: typed {BENCH_MM[0] + 0.4:.3f} mm at first, and put right to {BENCH_MM[0]:.3f} mm"
    )
    assert said in check.warnings
    slight = replace(first, value_nm=first.value_nm - 390_000)
    again = judge_thickness([replace(thickness(), put_right=(slight,))], EXAMPLE)
    assert not [said for said in again.warnings if "put right" in said]


@pytest.mark.parametrize("sets", [1, 2])
def test_a_reading_against_what_is_over_does_not_take_away_the_set_that_it_contradicts(sets: int) -> None:
    """Over, confirmed, then one reading of one of its places that says otherwise: that set is invalid."""
    worse = [value + (0.25 if i < 2 else 0.0) for i, value in enumerate(BENCH_MM)]
    twice, first = thickness(worse), thickness().readings[0]
    contradicted = replace(twice, readings=(*twice.readings, *twice.readings[:2], first, first))
    assert judge_thickness([contradicted], EXAMPLE).outcome == "invalid"
    check = judge_thickness([contradicted, *anew(sets)], EXAMPLE)
    assert check.outcome == "unclear", check.reason
    assert "read again station 0 outer (0.520 mm), station 0 inner (0.500 mm)" in check.reason
    assert judge_thickness([contradicted, *anew(6)], EXAMPLE).outcome == "within"


def test_nor_does_a_set_that_was_ended_before_it_was_whole() -> None:
    begun = thickness([value + (0.25 if i < 2 else 0.0) for i, value in enumerate(BENCH_MM)])
    begun = replace(begun, readings=begun.readings[:2])
    assert judge_thickness([begun, thickness()], EXAMPLE).outcome == "unclear"
    assert judge_thickness([begun, *anew(3)], EXAMPLE).outcome == "within"
