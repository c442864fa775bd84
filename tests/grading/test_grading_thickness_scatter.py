"""How well a micrometer's reading repeats, from replicates."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from contract.gauge import GaugeFacts
from grading.thickness.scatter import _let_through, scatter_draws
from grading.thickness.spread import DRAWS
from tests.grading.samples import MICROMETER


def test_replicates_alone_make_it_student() -> None:
    """Eight pairs 2 um apart: s = sqrt(2) um with 8 degrees of freedom, chi-square quantiles of scipy."""
    gauge = GaugeFacts("m", 1e-6, 0.0)
    drawn = scatter_draws([[0.0, 0.002]] * 8, gauge, 0.0003, 0.02, DRAWS)
    for share in (0.05, 0.5, 0.95):
        exact = math.sqrt(8 * 0.002**2 / 2 / stats.chi2.ppf(1 - share, 8))
        assert float(np.quantile(drawn, share)) == pytest.approx(exact, rel=0.02)


def test_without_replicates_the_assumption_stands() -> None:
    drawn = scatter_draws([[0.1]] * 8, MICROMETER, 0.0005, 0.03, DRAWS)
    assert float(np.median(drawn)) == pytest.approx(math.sqrt(0.0005 * 0.03), rel=0.01)


@pytest.mark.parametrize("count", [2, 3, 5])
def test_how_often_readings_are_let_through_is_the_distribution_of_their_range(count: int) -> None:
    """scipy's studentised range of infinitely many degrees of freedom."""
    grid = np.geomspace(0.0005, 0.03, 12)
    exact = stats.studentized_range.cdf(0.02 / grid, count, np.inf)
    assert np.exp(_let_through(count, grid, 0.02)) == pytest.approx(exact, abs=2e-3)


def test_a_gauge_is_no_better_for_what_was_asked_for_again() -> None:
    """Readings that repeat to 10 um, of which those are left that lie within 20 um: by their luck alone half
    of 200 gauges came out better than they are, and more."""
    rng = np.random.default_rng(5)
    gauge, short = GaugeFacts("m", 0.001, 0.004), [0, 0]
    for _ in range(200):
        taken = rng.normal(0.0, 0.01, (200, 3))
        let_through = np.round(taken[np.ptp(taken, axis=1) <= 0.02][:8], 3)
        for which, apart_mm in enumerate((0.02, math.inf)):
            drawn = scatter_draws(let_through, gauge, 0.0005, 0.03, 200, apart_mm)
            short[which] += float(np.quantile(drawn, 0.95)) < 0.01
    assert short[0] <= 20 < 60 < short[1]
