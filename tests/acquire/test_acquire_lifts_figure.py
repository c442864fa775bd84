"""The figure of a repeatability test, for any values."""

from __future__ import annotations

from statistics import stdev
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.journal.events import AngleStated, SweepBegun, TypedLift
from acquire.runs.lifts import judge_lifts
from config.method import LiftRules
from contract.gauge import GaugeFacts

COMMON: dict[str, Any] = {"inspection": "i", "time_ns": 1}


@given(
    st.lists(st.integers(-20_000, 20_000), min_size=3, max_size=10),
    st.integers(-(10**9), 10**9),
    st.integers(1, 9_999),
)
def test_the_figure_is_the_standard_deviation_whatever_the_zero_and_never_below_the_step(
    values: list[int], zero: int, step: int
) -> None:
    gauge = GaugeFacts(id="typed", resolution_mm=step / 1e6, mpe_mm=1e-06)
    begun = SweepBegun(
        **COMMON, check="lifts", gauge=gauge, angle=AngleStated(source="typed"), by_reading=True
    )

    def found(zero: int) -> float:
        typed = [TypedLift(**COMMON, value_nm=zero + value) for value in values]
        repeatability, fault = judge_lifts(begun, typed, LiftRules())
        assert fault is None
        assert repeatability is not None
        assert repeatability.dof == len(values) - 1
        return repeatability.sd_mm

    assert found(zero) == pytest.approx(max(stdev(values), step / 12**0.5) / 1e6, rel=1e-6)
    assert found(zero) == pytest.approx(found(0), rel=1e-6)
