"""The distribution of a true TIR in closed form against numerical integration."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.integrate
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from grading.surface.tir import TirDistribution, normal_below, spread_mm


def test_normal_distribution_function() -> None:
    x = np.linspace(-9, 9, 2001)
    assert normal_below(x) == pytest.approx(scipy.stats.norm.cdf(x), abs=1e-7)
    assert normal_below(x[:500]) == pytest.approx(scipy.stats.norm.cdf(x[:500]), rel=1e-6)


@pytest.mark.parametrize("limit", [0.17, 0.199, 0.2, 0.207, 0.23])
def test_probability_over_against_integration(limit: float) -> None:
    found = TirDistribution(np.array([0.198, 0.203]), 0.002, 0.012).p_over(limit)

    def above(r: float) -> float:
        return float(np.mean(scipy.stats.norm.sf(limit, np.array([0.198, 0.203]) + r, 0.002))) / 0.024

    assert found == pytest.approx(scipy.integrate.quad(above, -0.012, 0.012)[0], abs=1e-6)


def test_purely_normal_and_purely_rectangular() -> None:
    normal = TirDistribution(np.array([0.2]), 0.003, 0.0)
    assert normal.median_mm() == pytest.approx(0.2, abs=1e-7)
    assert normal.expanded_mm(0.2, 0.95) == pytest.approx(1.959964 * 0.003, abs=1e-7)
    flat = TirDistribution(np.array([0.2]), 1e-7, 0.01)
    assert flat.expanded_mm(0.2, 0.95) == pytest.approx(0.0095, abs=1e-6)
    assert flat.u_mm == pytest.approx(0.01 / 3**0.5, rel=1e-6)


@pytest.mark.slow
@given(
    centre=st.floats(0.0, 0.5),
    width=st.floats(0.0, 0.05),
    blur=st.floats(1e-5, 0.02),
    coverage=st.floats(0.5, 0.99),
)
def test_the_expanded_uncertainty_holds_what_it_says(
    centre: float, width: float, blur: float, coverage: float
) -> None:
    known = TirDistribution(centre + 0.01 * np.random.default_rng(1).standard_normal(50), blur, width)
    y = known.median_mm()
    big_u = known.expanded_mm(y, coverage)
    assert known.p_over(y - big_u) - known.p_over(y + big_u) == pytest.approx(coverage, abs=1e-3)
    assert known.p_over(y) == pytest.approx(0.5, abs=1e-3)


def test_spread_of_normal_values_is_their_standard_deviation() -> None:
    values = scipy.stats.norm.ppf((np.arange(10_000) + 0.5) / 10_000) * 0.004
    assert spread_mm(values) == pytest.approx(0.004, rel=1e-3)
