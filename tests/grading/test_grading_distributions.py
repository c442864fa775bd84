"""Distributions against scipy.stats (an independent library) and against exact closed forms."""

from __future__ import annotations

import math
from decimal import Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from grading.statistics.distributions import (
    chi2_cdf,
    chi2_quantile,
    f_cdf,
    f_quantile,
    normal_cdf,
    normal_quantile,
    t_cdf,
    t_quantile,
)
from grading.statistics.special import incomplete_beta, incomplete_gamma

FREEDOMS = (0.5, 1.0, 1.7, 2.0, 3.0, 5.0, 10.0, 16.66, 30.0, 100.0, 1000.5, 1e5)
PROBABILITIES = (1e-12, 1e-6, 1e-3, 0.025, 0.3, 0.49, 0.51, 0.7, 0.95, 0.975, 0.999, 1.0 - 1e-6)
PLACES = (1e-3, 0.1, 0.5, 1.0, 2.0, 5.0, 30.0, 1000.0)


def close(a: float, b: float, rel: float) -> bool:
    return a == pytest.approx(b, rel=rel, abs=1e-300)


@pytest.mark.parametrize("z", [-37.0, -8.0, -1.959963984540054, -1e-9, 0.0, 0.3, 1.0, 5.0])
def test_normal(z: float) -> None:
    assert close(normal_cdf(z), float(stats.norm.cdf(z)), 1e-13)


@pytest.mark.parametrize("p", PROBABILITIES)
def test_normal_quantile(p: float) -> None:
    assert close(normal_quantile(p), float(stats.norm.ppf(p)), 1e-14)


@pytest.mark.parametrize("nu", FREEDOMS)
def test_student_t(nu: float) -> None:
    for t in PLACES:
        assert close(t_cdf(t, nu), float(stats.t.cdf(t, nu)), 1e-12)
        assert close(t_cdf(-t, nu), float(stats.t.cdf(-t, nu)), 1e-9 if t < 0.01 else 1e-12)
    for p in PROBABILITIES:
        assert close(t_quantile(p, nu), float(stats.t.ppf(p, nu)), 1e-11)


@pytest.mark.parametrize("nu", FREEDOMS)
def test_chi_square(nu: float) -> None:
    for x in PLACES:
        assert close(chi2_cdf(x * nu / 5.0, nu), float(stats.chi2.cdf(x * nu / 5.0, nu)), 1e-10)
    for p in PROBABILITIES:
        assert close(chi2_quantile(p, nu), float(stats.chi2.ppf(p, nu)), 1e-10)


@pytest.mark.parametrize("nu1", FREEDOMS)
def test_f(nu1: float) -> None:
    for nu2 in FREEDOMS:
        for x in PLACES:
            assert close(f_cdf(x, nu1, nu2), float(stats.f.cdf(x, nu1, nu2)), 1e-9)
    for nu2 in FREEDOMS[::3]:
        for p in PROBABILITIES[1::2]:
            assert close(f_quantile(p, nu1, nu2), float(stats.f.ppf(p, nu1, nu2)), 1e-9)


def test_tails_of_many_degrees_of_freedom_keep_their_digits() -> None:
    # Closed form: with 2 b even degrees of freedom below, the F distribution function is the finite
    # sum over j < b of C(a + j - 1, j) x^a y^j; here in 50-digit arithmetic. (The general library is
    # good to nine digits only here.)
    with localcontext() as context:
        context.prec = 50
        a, ratio = 5_000_000, Decimal("0.125") * 10**7 / 10
        x, y = ratio / (1 + ratio), 1 / (1 + ratio)
        total, term = Decimal(0), Decimal(1)
        for j in range(5):
            total += term * y**j
            term = term * (a + j) / (j + 1)
        expected = float(x**a * total)
    assert close(f_cdf(0.125, 1e7, 10), expected, 1e-13)


def test_student_t_of_one_and_two_degrees_is_elementary() -> None:
    for t in (-1e-6, -0.3, 0.7, 12.0):
        assert t_cdf(t, 1.0) == pytest.approx(0.5 + math.atan(t) / math.pi, rel=1e-15)
        assert t_cdf(t, 2.0) == pytest.approx(0.5 + 0.5 * t / math.sqrt(2.0 + t * t), rel=1e-14)


def test_infinite_degrees_of_freedom_are_the_limits() -> None:
    assert t_quantile(0.975, math.inf) == normal_quantile(0.975)
    assert t_cdf(1.3, math.inf) == normal_cdf(1.3)
    assert f_quantile(0.9, 7.0, math.inf) == pytest.approx(chi2_quantile(0.9, 7.0) / 7.0, rel=1e-13)


def test_ends_of_the_scale() -> None:
    assert t_cdf(math.inf, 3.0) == 1.0
    assert t_cdf(-math.inf, 3.0) == 0.0
    assert chi2_cdf(-1.0, 3.0) == 0.0
    assert chi2_cdf(math.inf, 3.0) == 1.0
    assert f_cdf(0.0, 3.0, 4.0) == 0.0
    assert f_cdf(math.inf, 3.0, 4.0) == 1.0
    assert t_quantile(0.5, 4.0) == 0.0


@given(p=st.floats(1e-9, 1.0 - 1e-9), nu=st.floats(0.5, 1e5))
def test_a_quantile_turns_its_distribution_function_round(p: float, nu: float) -> None:
    assert t_cdf(t_quantile(p, nu), nu) == pytest.approx(p, rel=1e-9)
    assert chi2_cdf(chi2_quantile(p, nu), nu) == pytest.approx(p, rel=1e-9)
    assert f_cdf(f_quantile(p, nu, 7.0), nu, 7.0) == pytest.approx(p, rel=1e-9)


@given(a=st.floats(0.01, 1e6), b=st.floats(0.01, 1e6), x=st.floats(1e-9, 1.0 - 1e-9))
def test_the_two_tails_of_the_beta_function_change_places(a: float, b: float, x: float) -> None:
    y = 1.0 - x
    lower, upper = incomplete_beta(a, b, 1.0 - y, y)
    assert 0.0 <= lower <= 1.0
    assert incomplete_beta(b, a, y, 1.0 - y) == pytest.approx((upper, lower), rel=1e-9, abs=1e-300)
    assert lower + upper == pytest.approx(1.0, abs=1e-15)


@pytest.mark.parametrize("p", [0.0, 1.0, -0.1, math.nan])
def test_no_quantile_of_what_is_no_probability(p: float) -> None:
    for quantile in (normal_quantile, lambda q: t_quantile(q, 3.0), lambda q: f_quantile(q, 3.0, 4.0)):
        with pytest.raises(ValueError, match="probability"):
            quantile(p)


def test_no_distribution_without_degrees_of_freedom() -> None:
    with pytest.raises(ValueError, match="degrees of freedom"):
        t_cdf(1.0, 0.0)
    with pytest.raises(ValueError, match="finite"):
        chi2_cdf(1.0, math.inf)
    with pytest.raises(ValueError, match="incomplete gamma"):
        incomplete_gamma(-1.0, 1.0)
    with pytest.raises(ValueError, match="incomplete beta"):
        incomplete_beta(1.0, 1.0, 1.5, -0.5)
