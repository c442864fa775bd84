"""Distributions against exact closed forms, printed tables, and each other's inverse in scipy.stats.

The printed table of Student's t (JCGM 100:2008, table G.2) is in test_grading_published_uncertainty.py.
"""

from __future__ import annotations

import math
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from grading.statistics.distributions import chi2_quantile, normal_cdf, normal_quantile, t_quantile

PROBABILITIES = (1e-12, 1e-6, 1e-3, 0.025, 0.3, 0.49, 0.51, 0.7, 0.95, 0.975, 0.999, 1.0 - 1e-6)


@pytest.mark.parametrize("z", [-37.0, -8.0, -1.959963984540054, -1e-9, 0.0, 0.3, 1.0, 5.0])
def test_normal(z: float) -> None:
    assert normal_cdf(z) == pytest.approx(float(stats.norm.cdf(z)), rel=1e-13, abs=1e-300)


@pytest.mark.parametrize("p", PROBABILITIES)
def test_normal_quantile(p: float) -> None:
    assert normal_quantile(p) == pytest.approx(float(stats.norm.ppf(p)), rel=1e-14)


@pytest.mark.parametrize("p", PROBABILITIES)
def test_student_t_of_one_two_and_four_degrees_is_elementary(p: float) -> None:
    # tan, an algebraic function, and the cubic's trigonometric root [textbook closed forms, from memory]
    q, sign = min(p, 1.0 - p), 1.0 if p > 0.5 else -1.0
    assert t_quantile(p, 1.0) == pytest.approx(sign / math.tan(math.pi * q), rel=1e-12)
    product = 4.0 * q * (1.0 - q)
    assert t_quantile(p, 2.0) == pytest.approx(sign * 2.0 * (0.5 - q) * math.sqrt(2.0 / product), rel=1e-12)
    root = math.cos(math.acos(math.sqrt(product)) / 3.0) / math.sqrt(product)
    assert t_quantile(p, 4.0) == pytest.approx(sign * 2.0 * math.sqrt(max(root - 1.0, 0.0)), rel=1e-9)


@pytest.mark.parametrize("p", PROBABILITIES)
def test_chi_square_of_one_and_two_degrees_is_elementary(p: float) -> None:
    assert chi2_quantile(p, 2.0) == pytest.approx(-2.0 * math.log1p(-p), rel=1e-13)
    root = math.sqrt(0.5 * chi2_quantile(p, 1.0))
    tail = math.erf(root) if p < 0.5 else math.erfc(root)
    assert tail == pytest.approx(min(p, 1.0 - p), rel=1e-12)


@pytest.mark.parametrize("nu", [3.0, 4.3, 16.66, 100.0, 1e5, 1e9])
def test_student_t_keeps_its_digits_far_out(nu: float) -> None:
    for p in PROBABILITIES:
        tail = float(stats.t.sf(abs(t_quantile(p, nu)), nu))
        assert tail == pytest.approx(min(p, 1.0 - p), rel=1e-10)


@pytest.mark.parametrize("nu", [3, 17, 100, 1000, 100_000])
def test_chi_square_keeps_its_digits_far_out(nu: int) -> None:
    for p in PROBABILITIES:
        x = chi2_quantile(p, nu)
        tail = float(stats.chi2.cdf(x, nu) if p < 0.5 else stats.chi2.sf(x, nu))
        assert tail == pytest.approx(min(p, 1.0 - p), rel=1e-9)


def test_infinite_degrees_of_freedom_are_the_limits() -> None:
    assert t_quantile(0.975, math.inf) == normal_quantile(0.975)
    assert t_quantile(0.975, 1e12) == pytest.approx(normal_quantile(0.975), rel=1e-11)
    assert t_quantile(0.5, 4.0) == pytest.approx(0.0, abs=1e-15)


@given(p=st.floats(1e-9, 1.0 - 1e-9), nu=st.floats(0.5, 1e5))
def test_a_quantile_turns_its_distribution_function_round(p: float, nu: float) -> None:
    assert float(stats.t.cdf(t_quantile(p, nu), nu)) == pytest.approx(p, rel=1e-9)
    assert float(stats.chi2.cdf(chi2_quantile(p, nu), nu)) == pytest.approx(p, rel=1e-9)


@pytest.mark.parametrize("p", [0.0, 1.0, -0.1, math.nan])
def test_no_quantile_of_what_is_no_probability(p: float) -> None:
    for quantile in (normal_quantile, lambda q: t_quantile(q, 3.0), lambda q: chi2_quantile(q, 3.0)):
        with pytest.raises(ValueError, match="probability"):
            quantile(p)


@pytest.mark.parametrize("nu", [0.0, -1.0, math.nan])
def test_no_distribution_without_degrees_of_freedom(nu: float) -> None:
    for quantile in (t_quantile, chi2_quantile):
        with pytest.raises(ValueError, match="degrees of freedom"):
            quantile(0.5, nu)
    with pytest.raises(ValueError, match="finite"):
        chi2_quantile(0.5, math.inf)


@pytest.mark.slow
def test_nothing_that_starts_up_loads_scipy() -> None:
    loads = "import sys, ringtrue.cli, ringtrue.commands.run, acquire.daemon, grading.assess; "
    found = subprocess.run(
        [sys.executable, "-c", loads + "print(sorted(m for m in sys.modules if m.startswith('scipy')))"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert found.stdout.strip() == "[]"
