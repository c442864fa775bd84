"""Effective degrees of freedom: their law, and what is refused."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grading.gauge.budget import effective_dof


@given(st.lists(st.tuples(st.floats(0.0, 10.0), st.floats(1.0, 100.0)), min_size=1, max_size=8))
def test_effective_degrees_lie_between_the_smallest_and_the_sum(parts: list[tuple[float, float]]) -> None:
    # JCGM 100:2008, G.4.1: nu_eff <= sum of nu_i
    u, nu = [part[0] for part in parts], [part[1] for part in parts]
    found = effective_dof(math.hypot(*u), u, nu)
    if math.isfinite(found):
        assert found <= sum(nu) * (1 + 1e-9)
        assert found >= min(nu) * (1 - 1e-9)


def test_what_is_known_exactly_takes_no_degrees_of_freedom_away() -> None:
    assert effective_dof(5.0, [3.0, 4.0], [math.inf, math.inf]) == math.inf
    assert effective_dof(5.0, [3.0, 4.0], [9.0, math.inf]) == pytest.approx(9.0 * (5.0 / 3.0) ** 4)
    with pytest.raises(ValueError, match="shorter"):
        effective_dof(1.0, [1.0], [])
