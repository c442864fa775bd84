"""Monte Carlo against the worked examples of JCGM 101:2008 (GUM Supplement 1), clause 9.

Each check names how sure we are of it. Tolerances allow for the spread of the trials made.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from grading.evidence import F64
from grading.gauge.budget import Component, combine, divisor
from grading.gauge.montecarlo import (
    agrees_with,
    arcsine,
    inexact_limits,
    normal,
    propagate,
    rectangular,
    student_t,
)
from grading.statistics.distributions import normal_quantile

TRIALS = 1_000_000


def total(*inputs: F64) -> F64:
    return np.asarray(np.sum(inputs, axis=0))


@pytest.mark.slow
def test_sum_of_four_normal_inputs() -> None:
    # JCGM 101:2008, 9.2.2, table 2 [read in transcription; reproduced]
    found = propagate(total, [normal(0.0, 1.0)] * 4, trials=TRIALS, seed=922)
    exact = 2.0 * normal_quantile(0.975)
    assert exact == pytest.approx(3.919927969080108, abs=1e-9)  # printed 3.92
    assert found.u == pytest.approx(2.0, abs=0.01)
    assert found.symmetric() == pytest.approx((-exact, exact), abs=0.02)
    assert found.shortest() == pytest.approx((-exact, exact), abs=0.06)
    assert agrees_with(found, (-3.92, 3.92), digits=2)


@pytest.mark.slow
def test_sum_of_four_rectangular_inputs() -> None:
    # JCGM 101:2008, 9.2.3, table 3 and annex E [read in transcription; reproduced]
    root3 = math.sqrt(3.0)
    found = propagate(total, [rectangular(-root3, root3)] * 4, trials=TRIALS, seed=923)
    exact = 2.0 * root3 * (2.0 - (3.0 / 5.0) ** 0.25)
    assert exact == pytest.approx(3.8794067413478364, abs=1e-9)  # printed 3.88
    assert found.u == pytest.approx(2.0, abs=0.01)
    assert found.symmetric() == pytest.approx((-exact, exact), abs=0.02)
    assert combine([Component(str(i), root3, divisor("rectangular")) for i in range(4)]).expanded() == (
        pytest.approx(3.92, abs=0.005)  # printed for the law of propagation
    )


@pytest.mark.slow
def test_one_dominant_rectangular_input_is_where_the_law_of_propagation_fails() -> None:
    # JCGM 101:2008, 9.2.4, table 4 [from memory; reproduced]; also the negative case of clause 8
    half = [math.sqrt(3.0) * sd for sd in (1.0, 1.0, 1.0, 10.0)]
    found = propagate(total, [rectangular(-a, a) for a in half], trials=TRIALS, seed=924)
    assert found.u == pytest.approx(10.14889156509222, abs=0.02)  # printed 10.1
    assert found.symmetric() == pytest.approx((-17.015814099866507, 17.015814099866507), abs=0.05)
    law = combine([Component(str(i), a, divisor("rectangular")) for i, a in enumerate(half)]).expanded()
    assert law == pytest.approx(19.891461950583093, abs=1e-6)  # printed 19.9
    assert not agrees_with(found, (-law, law))


@pytest.mark.slow
def test_mass_calibration() -> None:
    # JCGM 101:2008, 9.3, tables 5 and 6 [inputs read in transcription, outputs from memory; reproduced]
    def deviation(reference: F64, added: F64, air: F64, weight: F64, standard: F64) -> F64:
        return (reference + added) * (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / standard)) - 100_000.0

    inputs = (
        normal(100_000.0, 0.050), normal(1.234, 0.020), rectangular(1.10, 1.30),
        rectangular(7000.0, 9000.0), rectangular(7950.0, 8050.0),
    )  # fmt: skip
    found = propagate(deviation, inputs, trials=TRIALS, seed=93)
    assert found.y == pytest.approx(1.2340, abs=0.0005)
    assert found.u == pytest.approx(0.07548, abs=0.0002)  # printed 0.0754
    assert found.shortest() == pytest.approx((1.0839, 1.3830), abs=0.003)  # printed 1.0834, 1.3825
    assert found.symmetric() == pytest.approx((1.0844, 1.3835), abs=0.002)
    # First order misses the air's buoyancy, whose sensitivity vanishes at equal densities.
    first = combine([Component("reference", 0.050), Component("added", 0.020)])
    assert first.u == pytest.approx(0.05385164807134504, abs=5e-5)  # printed 0.0539
    assert (1.234 - first.expanded(), 1.234 + first.expanded()) == pytest.approx((1.1285, 1.3395), abs=5e-5)
    # Second order adds u(air) u(1 / weight) and u(air) u(1 / standard) (JCGM 100:2008, 5.1.2, note).
    air = 0.10 / math.sqrt(3.0)
    terms = [1e5 * air * a / math.sqrt(3.0) / 8000.0**2 for a in (1000.0, 50.0)]
    second = combine([*first.components, *(Component(f"air {i}", t) for i, t in enumerate(terms))])
    assert second.u == pytest.approx(0.0749634738503338, abs=5e-5)  # printed 0.0750
    assert second.expanded() == pytest.approx(0.5 * (1.381 - 1.087), abs=5e-4)
    assert not agrees_with(found, (1.1285, 1.3395))


@pytest.mark.slow
def test_end_gauge() -> None:
    # JCGM 101:2008, 9.5, tables 10 and 11 [from memory; reproduced], nm
    def deviation(
        ls: F64, d: F64, d1: F64, d2: F64, alpha: F64, mean: F64, swing: F64, d_alpha: F64, d_theta: F64
    ) -> F64:
        theta = mean + swing
        length = ls * (1.0 + alpha * (theta - d_theta)) + d + d1 + d2
        return length / (1.0 + (alpha + d_alpha) * theta) - 50_000_000.0

    inputs = (
        student_t(50_000_623.0, 25.0, 18.0), student_t(215.0, 6.0, 24.0), student_t(0.0, 4.0, 5.0),
        student_t(0.0, 7.0, 8.0), rectangular(9.5e-6, 13.5e-6), normal(-0.1, 0.2), arcsine(-0.5, 0.5),
        inexact_limits(-1.0e-6, 1.0e-6, 0.1e-6), inexact_limits(-0.050, 0.050, 0.025),
    )  # fmt: skip
    found = propagate(deviation, inputs, trials=TRIALS, seed=95)
    assert found.y == pytest.approx(838.0, abs=0.5)
    assert found.u == pytest.approx(35.81, abs=0.3)  # printed 36
    assert found.symmetric(0.99) == pytest.approx((744.3, 931.6), abs=1.5)  # printed 745, 932
