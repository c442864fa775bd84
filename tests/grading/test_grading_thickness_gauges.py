"""Thickness read by more than one gauge: the worst of what is stated of each counts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from contract.gauge import GaugeFacts
from contract.terms import TYPED
from grading.evidence import ThicknessReading
from grading.kinds.thickness import judge_thickness
from grading.thickness.gauges import worst_of
from tests.grading.samples import EXAMPLE, thickness

STEADY = GaugeFacts("micrometer-1", 0.001, 0.004, repeatability_mm=0.001)
WIDE = GaugeFacts("micrometer-2", 0.001, 0.02, repeatability_mm=0.0005)
COARSE = GaugeFacts(TYPED, 0.01, 0.015)
NEAR_MM = (25.0, 25.01, 25.121, 25.118, 25.236, 25.23, 25.12, 25.122)
"""0.236 mm between highest and lowest, where 0.25 mm is the limit."""


def test_each_fact_is_the_worst_that_is_stated_of_any() -> None:
    assert worst_of([STEADY, STEADY], EXAMPLE.thickness) == STEADY
    told = worst_of([STEADY, WIDE], EXAMPLE.thickness)
    assert (told.id, told.mpe_mm, told.repeatability_mm) == ("micrometer-2", 0.02, 0.001)
    for order in ([WIDE, COARSE], [COARSE, WIDE]):
        told = worst_of(order, EXAMPLE.thickness)
        assert (told.resolution_mm, told.mpe_mm, told.repeatability_mm) == (0.01, 0.02, None)
    # One that is known to repeat worse than the method assumes of any is not bettered by one that is unknown.
    rough = replace(WIDE, repeatability_mm=0.05)
    assert worst_of([rough, COARSE], EXAMPLE.thickness).repeatability_mm == 0.05
    # Lifts through a coarser display: the variance of its step is in them.
    lifted = replace(STEADY, repeatability_dof=4)
    told = worst_of([lifted, replace(COARSE, repeatability_mm=0.001, repeatability_dof=9)], EXAMPLE.thickness)
    assert told.repeatability_dof == 4
    assert told.repeatability_mm == pytest.approx((0.001**2 + (0.01**2 - 0.001**2) / 12.0) ** 0.5)


def test_a_gauge_of_unknown_repeatability_is_not_lost_beside_one_of_a_larger_permissible_error() -> None:
    both = judge_thickness([thickness(NEAR_MM, gauge=WIDE), thickness(NEAR_MM, gauge=COARSE)], EXAMPLE)
    alone = judge_thickness([thickness(NEAR_MM, gauge=COARSE)] * 2, EXAMPLE)
    assert both.gauge is not None
    assert both.gauge.resolution_mm == 0.01
    assert both.u_expanded_mm is not None
    assert alone.u_expanded_mm is not None
    assert both.u_expanded_mm >= alone.u_expanded_mm
    assert (
        "readings of micrometer-2, typed count with the worst that is stated of any of them" in both.warnings
    )


def test_what_is_typed_into_a_keyed_set_is_judged_as_what_is_typed() -> None:
    typed = ThicknessReading(0.0, "outer", 25_000_000)
    keyed = thickness(NEAR_MM, gauge=STEADY)
    joined = replace(keyed, readings=(*keyed.readings, typed), beside=(COARSE,))
    assert judge_thickness([keyed], EXAMPLE).outcome == "within"
    check = judge_thickness([joined], EXAMPLE)
    assert check.gauge is not None
    assert (check.gauge.resolution_mm, check.gauge.repeatability_mm) == (0.01, None)
    assert check.outcome == "unclear"
