"""Propagation of distributions: seeds, inputs, intervals, and the adaptive run."""

from __future__ import annotations

import hashlib
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grading.evidence import F64
from grading.gauge import montecarlo
from grading.gauge.montecarlo import (
    Draw,
    Propagated,
    arcsine,
    inexact_limits,
    normal,
    numerical_tolerance,
    propagate,
    propagate_until,
    rectangular,
    shortest_interval,
    student_t,
    symmetric_interval,
    trapezoidal,
)
from grading.statistics.distributions import t_quantile


def total(*inputs: F64) -> F64:
    return np.asarray(np.sum(inputs, axis=0))


def test_one_seed_gives_the_same_bits() -> None:
    inputs = [normal(0.28, 0.01), rectangular(-0.004, 0.004), student_t(0.0, 0.002, 2.0)]

    def digest(seed: int) -> str:
        return hashlib.sha256(propagate(total, inputs, trials=5000, seed=seed).draws.tobytes()).hexdigest()

    assert digest(7) == digest(7)
    assert digest(7) != digest(8)


def test_inputs_do_not_share_their_stream() -> None:
    twice = propagate(lambda a, b: a - b, [normal(0.0, 1.0)] * 2, trials=20_000, seed=1)
    assert twice.u == pytest.approx(math.sqrt(2.0), rel=0.03)


@pytest.mark.parametrize(
    ("draw", "mean", "u"),
    [
        (normal(2.0, 0.5), 2.0, 0.5),
        (rectangular(1.0, 3.0), 2.0, 1.0 / math.sqrt(3.0)),
        (trapezoidal(1.0, 3.0, 0.0), 2.0, 1.0 / math.sqrt(6.0)),
        (trapezoidal(1.0, 3.0, 0.5), 2.0, math.sqrt(1.25 / 6.0)),
        (arcsine(1.0, 3.0), 2.0, 1.0 / math.sqrt(2.0)),
        (inexact_limits(1.0, 3.0, 0.5), 2.0, math.sqrt(1.0 / 3.0 + 0.25 / 9.0)),
        (student_t(2.0, 0.5, 8.0), 2.0, 0.5 * math.sqrt(8.0 / 6.0)),
    ],
)
def test_moments_of_the_inputs(draw: Draw, mean: float, u: float) -> None:
    # closed forms of JCGM 101:2008, 6.4
    found = propagate(lambda x: x, [draw], trials=200_000, seed=3)
    assert found.y == pytest.approx(mean, abs=0.01)
    assert found.u == pytest.approx(u, rel=0.01)


def test_student_t_has_its_quantiles() -> None:
    found = propagate(lambda x: x, [student_t(0.0, 1.0, 4.0)], trials=200_000, seed=4)
    assert found.symmetric()[1] == pytest.approx(t_quantile(0.975, 4.0), rel=0.02)


@given(m=st.integers(50, 400), seed=st.integers(0, 100), coverage=st.sampled_from([0.5, 0.9, 0.95]))
def test_intervals_hold_their_share_and_the_shortest_is_shortest(m: int, seed: int, coverage: float) -> None:
    draws = np.sort(np.random.default_rng(seed).exponential(1.0, m))
    for low, high in (symmetric_interval(draws, coverage), shortest_interval(draws, coverage)):
        inside = np.count_nonzero((draws >= low) & (draws <= high))
        assert inside == math.floor(coverage * m + 0.5) + 1
    short, even = shortest_interval(draws, coverage), symmetric_interval(draws, coverage)
    assert short[1] - short[0] <= even[1] - even[0]


def test_shortest_interval_of_a_lopsided_figure_begins_at_its_end() -> None:
    found = propagate(np.abs, [normal(0.0, 1.0)], trials=50_000, seed=5)
    assert found.shortest()[0] == pytest.approx(0.0, abs=0.02)
    assert found.p_over(1.959964) == pytest.approx(0.05, abs=0.005)
    assert found.p_over(found.draws[-1]) == 0.0


def test_an_adaptive_run_settles_to_its_tolerance() -> None:
    tolerance = numerical_tolerance(math.sqrt(1.0 + 1.0 / 3.0), digits=1)
    assert tolerance == pytest.approx(0.5)
    rough = propagate_until(total, [normal(0.0, 1.0), rectangular(-1.0, 1.0)], tolerance=0.5, seed=6)
    fine = propagate_until(total, [normal(0.0, 1.0), rectangular(-1.0, 1.0)], tolerance=0.02, seed=6)
    assert rough.draws.size == 20_000 < fine.draws.size
    assert fine.u == pytest.approx(math.sqrt(4.0 / 3.0), abs=0.02)


def test_an_adaptive_run_that_cannot_settle_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(montecarlo, "TRIALS_MAX", 30_000)
    with pytest.raises(RuntimeError, match="do not settle"):
        propagate_until(total, [normal(0.0, 1.0)], tolerance=1e-9, seed=6)


def test_numerical_tolerance_of_two_digits() -> None:
    # JCGM 101:2008, 7.9.2, example: u = 0.00035 with two digits is 35 x 10^-5, half of 10^-5 [from memory]
    assert numerical_tolerance(0.00035) == pytest.approx(0.000005)


def test_what_cannot_be_is_refused() -> None:
    draws = np.arange(10.0)
    for call in (
        lambda: propagate(total, [normal(0.0, 1.0)], trials=1, seed=0),
        lambda: symmetric_interval(draws, 0.99),
        lambda: shortest_interval(draws, 1.0),
        lambda: inexact_limits(0.0, 1.0, 0.6),
        lambda: Propagated(draws).symmetric(0.0),
    ):
        with pytest.raises(ValueError, match=r"trials|draws|coverage|limits"):
            call()
