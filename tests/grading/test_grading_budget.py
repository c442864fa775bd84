"""Budgets: laws of the combination, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from grading.gauge.budget import Component, combine, covariance_of_means, divisor, effective_dof
from grading.gauge.regression import fit_linear


@given(st.lists(st.tuples(st.floats(0.0, 10.0), st.floats(1.0, 100.0)), min_size=1, max_size=8))
def test_effective_degrees_lie_between_the_smallest_and_the_sum(parts: list[tuple[float, float]]) -> None:
    # JCGM 100:2008, G.4.1: nu_eff <= sum of nu_i
    found = combine([Component(str(i), u, dof=nu) for i, (u, nu) in enumerate(parts)])
    if math.isfinite(found.dof):
        assert found.dof <= sum(nu for _, nu in parts) * (1 + 1e-9)
        assert found.dof >= min(nu for _, nu in parts) * (1 - 1e-9)


@given(r=st.floats(-1.0, 1.0), a=st.floats(0.0, 5.0), b=st.floats(0.0, 5.0))
def test_full_correlation_adds_and_cancels(r: float, a: float, b: float) -> None:
    lines = (Component("a", a), Component("b", b))
    u = combine(lines, {("a", "b"): r}).u
    assert abs(a - b) - 1e-6 <= u <= a + b + 1e-6
    assert combine(lines, {("b", "a"): 1.0}).u == pytest.approx(a + b, abs=1e-9)


def test_degrees_of_freedom_are_cut_to_a_whole_number_only_where_asked() -> None:
    found = combine([Component("lifts", 1.0, dof=2.9, evaluation="A")])
    assert found.coverage_factor() == pytest.approx(4.3026527, abs=1e-6)  # t of 2
    assert found.coverage_factor(whole_dof=False) == pytest.approx(stats.t.ppf(0.975, 2.9), rel=1e-9)
    assert combine([Component("lifts", 1.0, dof=0.5)]).coverage_factor() == pytest.approx(12.7062, abs=1e-4)
    assert combine([Component("step", 1.0, 2.0)]).expanded() == pytest.approx(0.97998, abs=1e-5)


def test_a_component_knows_its_own_parts() -> None:
    line = Component("span", 0.004, divisor("rectangular"), sensitivity=-2.0)
    assert line.u == pytest.approx(0.0023094, abs=1e-7)
    assert line.contribution == pytest.approx(0.0046188, abs=1e-7)


def test_what_cannot_be_is_refused() -> None:
    lines = (Component("a", 1.0), Component("b", 1.0), Component("c", 1.0))
    for pairs, message in (
        ({("a", "x"): 0.5}, "sources of this budget"),
        ({("a", "a"): 0.5}, "sources of this budget"),
        ({("a", "b"): 1.5}, "-1 to 1"),
        ({("a", "b"): -1.0, ("b", "c"): -1.0, ("a", "c"): -1.0}, "cannot hold together"),
    ):
        with pytest.raises(ValueError, match=message):
            combine(lines, pairs)
    with pytest.raises(ValueError, match="source of its own"):
        combine([lines[0], lines[0]])
    for value, by, sensitivity, dof in (
        (-1.0, 1.0, 1.0, 1.0),
        (1.0, 0.0, 1.0, 1.0),
        (1.0, 1.0, math.nan, 1.0),
        (1.0, 1.0, 1.0, 0.0),
    ):
        with pytest.raises(ValueError, match="x:"):
            Component("x", value, by, sensitivity, dof)
    with pytest.raises(ValueError, match="beta"):
        divisor("trapezoid", 1.1)
    with pytest.raises(ValueError, match="two sets"):
        covariance_of_means(np.ones((1, 3)))
    with pytest.raises(ValueError, match="shorter"):
        effective_dof(1.0, [1.0], [])


def test_a_fit_that_cannot_be_made_is_refused() -> None:
    x = np.arange(5.0)
    for design, y, message in (
        (np.column_stack([x, 2 * x]), x, "depend on each other"),
        (np.column_stack([np.ones(5), np.zeros(5)]), x, "column"),
        (np.ones((2, 2)), np.ones(2), "cannot give"),
    ):
        with pytest.raises(ValueError, match=message):
            fit_linear(design, y)
