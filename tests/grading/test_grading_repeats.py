"""Three lifts: the standard deviation, its degrees of freedom, and what it covers."""

from __future__ import annotations

import math

import numpy as np
import pytest

from grading.gauge.repeats import repeatability_of_lifts, widened


def test_three_lifts() -> None:
    found = repeatability_of_lifts([0.190, 0.193, 0.190])
    assert found.sd_mm == pytest.approx(math.sqrt(0.003**2 / 3.0))
    assert found.sd_mm == pytest.approx(np.std([0.190, 0.193, 0.190], ddof=1))
    assert found.dof == 2


def test_few_lifts_make_a_wide_interval() -> None:
    # JCGM 100:2008, G.3: t of 2 degrees of freedom is 4.3, of 20 it is 2.1
    one = repeatability_of_lifts([0.190, 0.194, 0.192])
    assert 1.959964 * widened(one.sd_mm, one.dof) == pytest.approx(4.302653 * 0.002, rel=1e-6)
    assert 1.959964 * widened(one.sd_mm, 20) == pytest.approx(2.085963 * 0.002, rel=1e-6)


@pytest.mark.slow
def test_lifts_cover() -> None:
    # 95 % of the intervals mean +- U, from three lifts of a normal gauge, hold the truth.
    rng = np.random.default_rng(33)
    lifts = rng.normal(0.0, 0.003, (4000, 3))
    held = 0
    for three in lifts.tolist():
        found = repeatability_of_lifts(three)
        held += abs(sum(three) / 3) <= 1.959964 * widened(found.sd_mm / math.sqrt(3.0), found.dof)
    assert held / 4000 == pytest.approx(0.95, abs=0.011)


def test_one_lift_says_nothing() -> None:
    with pytest.raises(ValueError, match="two data points"):
        repeatability_of_lifts([0.1])
