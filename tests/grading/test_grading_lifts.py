"""What a repeatability test at the bay does to the figures of its inspection, by its degrees of freedom."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from config.method import ThicknessRules
from contract.gauge import GaugeFacts
from grading.evidence import F64, Sweep, ThicknessReading
from grading.gauge.repeats import Repeatability, proven, widened
from grading.runout.runout import RunoutEstimate
from grading.thickness.thickness import ThicknessEstimate, estimate_thickness, sort_places
from tests.grading.estimate import estimate_runout

FINE = GaugeFacts("indicator-1", 0.001, 0.0)
BETWEEN = "repeatability between lifts"
RULES = ThicknessRules(limit_mm=0.25)


def sweep(gauge: GaugeFacts) -> Sweep:
    rng = np.random.default_rng(5)
    angle: F64 = np.arange(300, dtype=np.float64) * (366.0 / 300)
    value = 0.1 * np.cos(np.deg2rad(angle)) + rng.standard_normal(angle.size) * 0.0005
    value = np.round(value / 0.001) * 0.001
    return Sweep("rim", angle, value, np.full(angle.size, 0.1), angle / 60.0, gauge)


def runout(sd_mm: float | None, dof: int | None) -> RunoutEstimate:
    gauge = replace(FINE, repeatability_mm=sd_mm, repeatability_dof=dof)
    return estimate_runout([sweep(gauge)], seed=1)


def thickness(
    sd_mm: float | None, dof: int | None, *, replicates: int = 1, apart_nm: int = 0
) -> ThicknessEstimate:
    gauge = GaugeFacts("micrometer-1", 0.001, 0.0, repeatability_mm=sd_mm, repeatability_dof=dof)
    readings = [
        ThicknessReading(station, radius, 38_000_000 + 20_000 * i + apart_nm * n)
        for i, (station, radius) in enumerate(RULES.order)
        for n in range(replicates)
    ]
    return estimate_thickness(sort_places(readings, RULES), gauge, RULES, seed=1)


@given(st.floats(1e-6, 1.0), st.integers(1, 200), st.sampled_from([0.9, 0.95, 0.99]))
def test_widened_is_the_ratio_of_student_to_normal(u: float, dof: int, coverage: float) -> None:
    p = 0.5 * (1 + coverage)
    assert widened(u, dof, coverage) == pytest.approx(u * stats.t.ppf(p, dof) / stats.norm.ppf(p), rel=1e-6)
    assert widened(u, dof, coverage) > widened(u, dof + 1, coverage) > u


@given(st.floats(0.0, 1.0), st.floats(1e-6, 0.1), st.integers(1, 9))
def test_a_test_proves_no_less_than_the_step_hides(sd: float, step: float, dof: int) -> None:
    found = proven(Repeatability(sd, dof), step)
    assert found.sd_mm == max(sd, step / 12**0.5)
    assert found.dof == dof


def test_the_budget_of_run_out_has_its_line_by_closed_form() -> None:
    """sqrt(2) times what the lifts show beyond noise and step, times t(0.975; 2) / k = 4.303 / 1.960
    (JCGM 100:2008, table G.2)."""
    plain, lifted = runout(None, None), runout(0.01, 2)
    (line,) = [line for line in lifted.budget if BETWEEN in line.source]
    assert "2 degrees of freedom" in line.source
    beyond = (0.01**2 - 0.0005**2 - 0.001**2 / 12) ** 0.5
    assert line.u_mm == pytest.approx(2**0.5 * beyond * 4.303 / 1.960, rel=0.005)
    assert not any(BETWEEN in line.source for line in plain.budget)
    assert lifted.u_random_mm == pytest.approx(np.hypot(plain.u_random_mm, line.u_mm), rel=0.25)
    assert lifted.true_tir_mm == pytest.approx(plain.true_tir_mm, abs=0.003)
    # As U: t with 2 degrees of freedom, of 1000 draws.
    assert lifted.u_expanded_mm == pytest.approx(4.303 * 2**0.5 * beyond, rel=0.25)


def test_the_fewer_lifts_the_wider() -> None:
    u = [runout(0.005, dof).u_expanded_mm for dof in (2, 5, 30, None)]
    assert all(fewer > 0.98 * more for fewer, more in itertools.pairwise(u))  # of 1000 draws
    assert u[0] > 1.5 * u[-1]


def test_a_test_that_shows_no_more_than_noise_and_step_is_a_line_of_nothing() -> None:
    plain, lifted = runout(None, None), runout(0.001 / 12**0.5, 2)
    (line,) = [line for line in lifted.budget if BETWEEN in line.source]
    assert line.u_mm == 0.0
    assert lifted.u_expanded_mm == plain.u_expanded_mm


def test_thickness_takes_the_lifts_with_their_few_degrees_of_freedom() -> None:
    plain, few, many = thickness(None, None), thickness(0.004, 2), thickness(0.004, 200)
    assert plain.budget[0][0].endswith("(assumed by the method, no place was read twice)")
    assert few.budget[0][0] == "repeatability of a reading (lifts at the bay, 2 degrees of freedom)"
    assert plain.u_expanded_mm > few.u_expanded_mm > 1.4 * many.u_expanded_mm
    # Two places far apart rule the spread: its U is k sqrt(2) sd, the display's step apart.
    assert float(np.std(many.bounds.single_mm)) == pytest.approx(2**0.5 * 0.004, rel=0.1)


def test_lifts_and_replicates_are_pooled() -> None:
    """JCGM 100:2008, 4.2.4: 2 degrees of freedom of the lifts and 8 of the replicates."""
    replicates = thickness(None, None, replicates=2, apart_nm=2_000)
    good = thickness(0.0005, 2, replicates=2, apart_nm=2_000)
    poor = thickness(0.004, 2, replicates=2, apart_nm=2_000)
    assert "10 degrees of freedom" in good.budget[0][0]
    assert good.u_expanded_mm < replicates.u_expanded_mm < poor.u_expanded_mm


def test_one_place_read_twice_is_one_degree_of_freedom() -> None:
    readings = [ThicknessReading(s, r, 38_000_000 + 20_000 * i) for i, (s, r) in enumerate(RULES.order)]
    places = sort_places([*readings, readings[0]], RULES)
    found = estimate_thickness(places, GaugeFacts("micrometer-1", 0.001, 0.0), RULES, seed=1)
    assert found.budget[0][0].endswith("(replicates, 1 degree of freedom)")


def test_lifts_that_all_show_the_same_leave_the_step_alone() -> None:
    same = thickness(0.001 / 12**0.5, 2)
    alone = thickness(0.0, None)
    assert alone.u_expanded_mm <= same.u_expanded_mm < thickness(None, None).u_expanded_mm / 4
    assert alone.u_expanded_mm < 0.001  # of two steps: triangular within 0.001


@pytest.mark.slow
def test_three_lifts_cover() -> None:
    """What three lifts make of a micrometer's scatter covers 95 times in 100 (binomial: at least 90 here);
    their standard deviation taken as known does not."""
    rng = np.random.default_rng(20)
    held: dict[int | None, int] = {2: 0, None: 0}
    count, sigma = 300, 0.006
    level = 38.0 + 0.02 * np.arange(len(RULES.order)) * (np.arange(len(RULES.order)) % 7 == 0)
    for i in range(count):
        sd = float(np.std(rng.standard_normal(3) * sigma, ddof=1))
        shown = level + rng.standard_normal(level.size) * sigma
        readings = [
            ThicknessReading(station, radius, round(value * 1e6))
            for (station, radius), value in zip(RULES.order, shown, strict=True)
        ]
        for dof in held:
            gauge = GaugeFacts("micrometer-1", 1e-6, 0.0, repeatability_mm=sd, repeatability_dof=dof)
            found = estimate_thickness(sort_places(readings, RULES), gauge, RULES, seed=i)
            held[dof] += abs(found.true_spread_mm - 0.14) <= found.u_expanded_mm
    assert held[2] / count > 0.9
    assert held[None] / count < 0.85
