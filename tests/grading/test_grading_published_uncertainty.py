"""Budgets against published worked examples (JCGM 100, EA-4/02) and against GTC, a GUM calculator.

Each check names its source and how sure we are of it: "read in transcription" (public documents that
copy the example), "from memory", "computed".
"""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import GTC
import numpy as np
import pytest

from grading.gauge.budget import (
    Component,
    combine,
    covariance_of_means,
    divisor,
    effective_dof,
    propagate_covariance,
    resolution_u,
)
from grading.gauge.montecarlo import Propagated, propagate, trapezoidal
from grading.gauge.ranges import c4
from grading.gauge.repeats import mean_and_sd
from grading.statistics.distributions import t_quantile

TABLES = tomllib.loads((Path(__file__).parent / "data" / "tables.toml").read_text())

# JCGM 100:2008, H.1, table H.1: end gauge 50 mm, nm and degrees Celsius [read in transcription]
LS = 50_000_623.0
END_GAUGE = (
    Component("standard", 25.0, dof=18.0),
    Component("comparison", 9.7, dof=25.6),
    Component("difference of expansion", 0.58e-6, sensitivity=-LS * -0.1, dof=50.0),
    Component("difference of temperature", 0.029, sensitivity=-LS * 11.5e-6, dof=2.0),
    Component("expansion", 1.2e-6, sensitivity=0.0),
    Component("temperature", 0.41, sensitivity=0.0),
)


def test_end_gauge_first_order() -> None:
    # JCGM 100:2008, H.1 [read in transcription; reproduced]
    found = combine(END_GAUGE)
    printed = (25.0, 9.7, 2.900036134, 16.6752077705, 0.0, 0.0)
    assert [c.contribution for c in found.components] == pytest.approx(printed, abs=1e-6)
    assert found.u == pytest.approx(31.710609640431848, abs=1e-6)
    assert round(found.u) == 32
    assert found.dof == pytest.approx(16.656062703003922, abs=1e-6)
    assert found.coverage_factor(0.99) == pytest.approx(2.9207816224251, abs=1e-9)  # with 16, printed 2.92
    assert found.expanded(0.99) == pytest.approx(92.61976587366955, abs=1e-6)
    assert 2.92 * round(found.u) == pytest.approx(93.0, abs=0.5)  # printed U99, by the rounded u
    assert found.expanded(0.99, whole_dof=False) == pytest.approx(92.1, abs=0.05)


def test_end_gauge_second_order() -> None:
    # JCGM 100:2008, H.1.7 [read in transcription; reproduced]
    more = (
        Component("expansion x temperature 1", LS * 0.58e-6 * 0.41),
        Component("expansion x temperature 2", LS * 1.2e-6 * 0.029),
    )
    assert [c.u for c in more] == pytest.approx((11.8901481494, 1.7400216804), abs=1e-6)
    assert combine((*END_GAUGE, *more)).u == pytest.approx(33.91114952682659, abs=1e-6)  # printed 34


def test_end_gauge_comparator() -> None:
    # JCGM 100:2008, H.1.3.2 [read in transcription; reproduced]
    found = combine(
        [Component(n, u, dof=nu) for n, u, nu in (("d0", 5.8, 24.0), ("d1", 3.9, 5.0), ("d2", 6.7, 8.0))]
    )
    assert found.u == pytest.approx(9.681941953967705, abs=1e-9)  # printed 9.7
    assert found.dof == pytest.approx(25.447250777362726, abs=1e-6)
    assert effective_dof(9.7, (5.8, 3.9, 6.7), (24.0, 5.0, 8.0)) == pytest.approx(25.6, abs=0.05)  # printed


def test_end_gauge_by_an_independent_calculator() -> None:
    ls = GTC.ureal(LS, 25, 18)
    d = GTC.ureal(215, 9.7, 25.6)
    d_alpha, theta = GTC.ureal(0, 0.58e-6, 50), GTC.ureal(-0.1, 0.41)
    alpha, d_theta = GTC.ureal(11.5e-6, 1.2e-6), GTC.ureal(0, 0.029, 2)
    length = ls + d - ls * (d_alpha * theta + alpha * d_theta)
    found = combine(END_GAUGE)
    assert found.u == pytest.approx(GTC.uncertainty(length), rel=1e-12)
    assert found.dof == pytest.approx(GTC.dof(length), rel=1e-9)
    assert found.coverage_factor(0.99, whole_dof=False) == pytest.approx(
        GTC.reporting.k_factor(GTC.dof(length), 99), rel=1e-9
    )


# JCGM 100:2008, H.2, table H.2: five sets of simultaneous readings [read in transcription]
VOLT = (5.007, 4.994, 5.005, 4.990, 4.999)
AMPERE = tuple(x / 1000.0 for x in (19.663, 19.639, 19.640, 19.685, 19.678))
RADIAN = (1.0456, 1.0438, 1.0468, 1.0428, 1.0433)


def test_simultaneous_resistance_and_reactance() -> None:
    # JCGM 100:2008, H.2, tables H.2 to H.4 [read in transcription; reproduced]
    means, v = covariance_of_means(np.column_stack([VOLT, AMPERE, RADIAN]))
    assert means * [1, 1000, 1] == pytest.approx([4.999, 19.661, 1.04446], abs=1e-6)
    s = np.sqrt(np.diag(v))
    assert s * [1, 1000, 1] == pytest.approx([0.0032, 0.0095, 0.00075], rel=0.02)
    r = v / np.outer(s, s)
    assert [r[0, 1], r[0, 2], r[1, 2]] == pytest.approx([-0.36, 0.86, -0.65], abs=0.01)

    (_, ampere, phi), z = means, means[0] / means[1]
    estimates = [z * math.cos(phi), z * math.sin(phi), z]
    assert estimates == pytest.approx([127.73216992810208, 219.84651191263848, 254.25970194801894], abs=1e-8)
    jacobian = np.array(
        [
            [math.cos(phi) / ampere, -estimates[0] / ampere, -estimates[1]],
            [math.sin(phi) / ampere, -estimates[1] / ampere, estimates[0]],
            [1.0 / ampere, -z / ampere, 0.0],
        ]
    )
    out = propagate_covariance(jacobian, v)
    u = np.sqrt(np.diag(out))
    assert u == pytest.approx([0.07107141, 0.29558168, 0.23633613], abs=1e-7)
    assert u == pytest.approx([0.071, 0.295, 0.236], abs=0.001)  # printed
    rho = out / np.outer(u, u)
    full = [-0.5884297844235161, -0.4852592242099274, 0.9925116489490169]
    assert [rho[0, 1], rho[0, 2], rho[1, 2]] == pytest.approx(full, abs=1e-9)
    assert full == pytest.approx([-0.588, -0.485, 0.993], abs=0.001)  # printed; from memory

    # the same resistance as one budget with correlated inputs (equation 16)
    names = ("V", "I", "phi")
    lines = [
        Component(n, float(x), sensitivity=float(c)) for n, x, c in zip(names, s, jacobian[0], strict=True)
    ]
    pairs = {("V", "I"): r[0, 1], ("V", "phi"): r[0, 2], ("phi", "I"): r[1, 2]}
    assert combine(lines, pairs).u == pytest.approx(u[0], rel=1e-12)


def test_resistance_by_an_independent_calculator() -> None:
    volt, ampere, phi = GTC.multiple_ureal(
        [sum(x) / 5 for x in (VOLT, AMPERE, RADIAN)],
        [mean_and_sd(x)[1] / math.sqrt(5.0) for x in (VOLT, AMPERE, RADIAN)],
        4,
    )
    _, v = covariance_of_means(np.column_stack([VOLT, AMPERE, RADIAN]))
    s = np.sqrt(np.diag(v))
    r = v / np.outer(s, s)
    for one, other, value in ((volt, ampere, r[0, 1]), (volt, phi, r[0, 2]), (ampere, phi, r[1, 2])):
        GTC.set_correlation(float(value), one, other)
    resistance = volt / ampere * GTC.cos(phi)
    assert GTC.uncertainty(resistance) == pytest.approx(0.07107141, abs=1e-7)


def test_effective_degrees_of_freedom() -> None:
    # JCGM 100:2008, G.4.1, example [from memory; reproduced]
    relative, n = (0.25, 0.57, 0.82), (10, 5, 15)
    lines = [Component(str(i), u, dof=k - 1.0) for i, (u, k) in enumerate(zip(relative, n, strict=True))]
    found = combine(lines)
    assert found.u == pytest.approx(1.0294658809304948, rel=1e-12)  # printed 1.03
    assert found.dof == pytest.approx(18.998742314267954, rel=1e-12)  # printed 19.0
    assert effective_dof(1.03, relative, [9.0, 4.0, 14.0]) == pytest.approx(19.038201574909, rel=1e-9)
    assert t_quantile(0.975, 19.0) * 1.03 == pytest.approx(2.2, abs=0.05)  # printed U95
    # equation G.2b with four equal components [read in transcription; reproduced]
    assert effective_dof(2.0, [1.0] * 4, [10.0] * 4) == pytest.approx(40.0, abs=1e-12)


@pytest.mark.parametrize("row", TABLES["student_t"]["rows"], ids=lambda row: f"nu={row[0]}")
def test_table_of_student_t(row: list[float]) -> None:
    # JCGM 100:2008, table G.2 [from memory; reproduced], here to four decimals
    nu = math.inf if row[0] == 0 else float(row[0])
    two_sided = (0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973)
    found = [t_quantile(0.5 * (1.0 + p), nu) for p in two_sided]
    assert found == pytest.approx(row[1:], abs=0.005)


def test_spread_of_an_experimental_standard_deviation() -> None:
    # JCGM 100:2008, table E.1 [from memory; reproduced]: percent for n readings
    for n, full, printed in (
        (2, 75.6, 76), (3, 52.3, 52), (4, 42.2, 42), (5, 36.3, 36), (10, 23.9, 24), (20, 16.3, 16),
        (30, 13.2, 13), (50, 10.1, 10),
    ):  # fmt: skip
        percent = 100.0 * math.sqrt(1.0 - c4(n) ** 2) / c4(n)
        assert percent == pytest.approx(full, abs=0.06)
        assert round(percent) == printed


def test_divisors_of_bounded_distributions() -> None:
    # JCGM 100:2008, 4.3.7, 4.3.9, F.2.2.1, H.1.3.4 [from memory; reproduced]: half-width one
    assert 1.0 / divisor("rectangular") == pytest.approx(0.5773502691896258, rel=1e-12)
    assert 1.0 / divisor("triangular") == pytest.approx(0.4082482904638631, rel=1e-12)
    assert 1.0 / divisor("arcsine") == pytest.approx(0.7071067811865475, rel=1e-12)
    trapezoids = [1.0 / divisor("trapezoid", beta) for beta in (0.0, 0.5, 1.0)]
    assert trapezoids == pytest.approx(
        [0.408248290463863, 0.45643546458763845, 0.5773502691896257], rel=1e-12
    )
    assert resolution_u(1.0) == pytest.approx(0.2886751345948129, rel=1e-12)  # printed 0.29
    assert resolution_u(0.01) == pytest.approx(0.0028868, abs=1e-7)


def test_calliper() -> None:
    # EA-4/02 M:2022, S10: vernier calliper on a 150 mm block [from memory; reproduced], micrometres
    rectangular = divisor("rectangular")
    lines = (
        Component("block", 0.8, rectangular),
        Component("temperature", 2.0, rectangular, sensitivity=1.7),
        Component("resolution", 25.0, rectangular),
        Component("mechanical", 50.0, rectangular),
    )
    found = combine(lines)
    assert found.u == pytest.approx(32.33780037871057, abs=1e-6)  # printed 33
    # two rectangular terms rule: the output is a trapezoid with this top over base
    beta = (50.0 - 25.0) / (50.0 + 25.0)
    k = (1.0 - math.sqrt((1.0 - 0.95) * (1.0 - beta**2))) * divisor("trapezoid", beta)
    assert k == pytest.approx(1.8338920591678145, rel=1e-12)  # printed 1.83
    assert k * found.u / 1000.0 == pytest.approx(0.06, abs=0.005)  # printed U, mm

    # the same factor out of the distribution itself
    drawn: Propagated = propagate(lambda x: x, [trapezoidal(-75.0, 75.0, beta)], trials=400_000, seed=10)
    assert drawn.u == pytest.approx(75.0 / divisor("trapezoid", beta), rel=0.005)
    low, high = drawn.symmetric(0.95)
    assert 0.5 * (high - low) / drawn.u == pytest.approx(k, rel=0.005)
