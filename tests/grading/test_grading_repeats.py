"""Three lifts: the standard deviation, its degrees of freedom, and its entry in a budget."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from grading.gauge.budget import Component, combine
from grading.gauge.repeats import (
    Repeatability,
    mean_and_sd,
    pool,
    repeatability_component,
    repeatability_of_lifts,
)


def test_three_lifts() -> None:
    found = repeatability_of_lifts([0.190, 0.193, 0.190])
    assert found.sd_mm == pytest.approx(math.sqrt(0.003**2 / 3.0))
    assert found.dof == 2
    sample = np.array([0.190, 0.193, 0.190])
    assert mean_and_sd([0.190, 0.193, 0.190]) == pytest.approx((sample.mean(), sample.std(ddof=1)))


def test_interval_of_a_standard_deviation() -> None:
    low, high = Repeatability(0.002, 2).interval_mm()
    assert low == pytest.approx(0.002 * math.sqrt(2.0 / stats.chi2.ppf(0.975, 2)))
    assert high == pytest.approx(0.002 * math.sqrt(2.0 / stats.chi2.ppf(0.025, 2)))
    assert Repeatability(0.002, 2).two_readings_mm() == pytest.approx(
        0.002 * math.sqrt(2) * stats.t.ppf(0.975, 2)
    )


def test_few_lifts_make_a_wide_budget_and_pooled_ones_a_narrower() -> None:
    # JCGM 100:2008, G.3 and 4.2.4: t of 2 degrees of freedom is 4.3; ten tests together give 2.1
    one = repeatability_of_lifts([0.190, 0.194, 0.192])
    component = repeatability_component(one, 0.001)
    assert (component.dof, component.evaluation) == (2.0, "A")
    assert component.u == pytest.approx(0.002)
    assert combine([component]).expanded() == pytest.approx(4.302653 * 0.002, rel=1e-6)
    many = pool([one] * 10)
    assert many.sd_mm == pytest.approx(0.002)
    assert many.dof == 20
    assert combine([repeatability_component(many, 0.001)]).expanded() == pytest.approx(
        2.085963 * 0.002, rel=1e-6
    )


def test_lifts_that_all_show_the_same_prove_no_perfect_gauge() -> None:
    component = repeatability_component(repeatability_of_lifts([0.19, 0.19, 0.19]), 0.01, sensitivity=2.0)
    assert component.evaluation == "B"
    assert math.isinf(component.dof)
    assert component.contribution == pytest.approx(2.0 * 0.01 / math.sqrt(12.0))


def test_a_mean_of_several_readings_repeats_better() -> None:
    component = repeatability_component(Repeatability(0.006, 5), 0.001, readings=4)
    assert component.u == pytest.approx(0.003)


@pytest.mark.slow
def test_the_entry_covers() -> None:
    # 95 % of the intervals mean +- U, from three lifts of a normal gauge, hold the truth.
    rng = np.random.default_rng(33)
    lifts = rng.normal(0.0, 0.003, (4000, 3))
    held = 0
    for three in lifts:
        mean, _ = mean_and_sd(three.tolist())
        entry = repeatability_component(repeatability_of_lifts(three.tolist()), 1e-9, readings=3)
        held += abs(mean) <= combine([entry]).expanded()
    assert held / 4000 == pytest.approx(0.95, abs=0.011)


def test_what_cannot_be_is_refused() -> None:
    for call in (
        lambda: repeatability_of_lifts([0.1]),
        lambda: pool([]),
        lambda: repeatability_component(Repeatability(0.1, 2), 0.01, readings=0),
    ):
        with pytest.raises(ValueError, match=r"at least|nothing"):
            call()
    assert isinstance(repeatability_component(Repeatability(0.0, 2), 0.0), Component)
