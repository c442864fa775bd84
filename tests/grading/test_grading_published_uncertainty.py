"""Degrees of freedom, Student's t and the display's step against JCGM 100 and against GTC, a GUM calculator.

Each check names its source and how sure we are of it: "read in transcription" (public documents that
copy the example), "from memory", "computed".
"""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import GTC
import pytest

from grading.gauge.budget import effective_dof, resolution_u
from grading.gauge.repeats import Repeatability, proven, widened
from grading.statistics.distributions import t_quantile

TABLES = tomllib.loads((Path(__file__).parent / "data" / "tables.toml").read_text())

# JCGM 100:2008, H.1, table H.1: end gauge 50 mm, nm and degrees Celsius [read in transcription]:
# standard, comparison, difference of expansion, difference of temperature
LS = 50_000_623.0
END_GAUGE = (25.0, 9.7, LS * 0.1 * 0.58e-6, LS * 11.5e-6 * 0.029)
END_GAUGE_DOF = (18.0, 25.6, 50.0, 2.0)


def test_end_gauge() -> None:
    # JCGM 100:2008, H.1 [read in transcription; reproduced]
    u = math.hypot(*END_GAUGE)
    assert round(u) == 32  # printed: the budget is the published one
    dof = effective_dof(u, END_GAUGE, END_GAUGE_DOF)
    assert dof == pytest.approx(16.656062703003922, abs=1e-6)
    assert t_quantile(0.995, math.floor(dof)) == pytest.approx(2.9207816224251, abs=1e-9)  # printed 2.92
    assert t_quantile(0.995, dof) * u == pytest.approx(92.1, abs=0.05)
    # as lifts of so few degrees of freedom enter the budget of run-out, here at 99 %
    assert widened(u, dof, 0.99) * t_quantile(0.995, math.inf) == pytest.approx(92.1, abs=0.05)


def test_end_gauge_comparator() -> None:
    # JCGM 100:2008, H.1.3.2 [read in transcription; reproduced]
    parts, dof = (5.8, 3.9, 6.7), (24.0, 5.0, 8.0)
    assert effective_dof(math.hypot(*parts), parts, dof) == pytest.approx(25.447250777362726, abs=1e-6)
    assert effective_dof(9.7, parts, dof) == pytest.approx(25.6, abs=0.05)  # printed


def test_end_gauge_by_an_independent_calculator() -> None:
    ls = GTC.ureal(LS, 25, 18)
    d = GTC.ureal(215, 9.7, 25.6)
    d_alpha, theta = GTC.ureal(0, 0.58e-6, 50), GTC.ureal(-0.1, 0.41)
    alpha, d_theta = GTC.ureal(11.5e-6, 1.2e-6), GTC.ureal(0, 0.029, 2)
    length = ls + d - ls * (d_alpha * theta + alpha * d_theta)
    dof = effective_dof(GTC.uncertainty(length), END_GAUGE, END_GAUGE_DOF)
    assert dof == pytest.approx(GTC.dof(length), rel=1e-9)
    assert t_quantile(0.995, dof) == pytest.approx(GTC.reporting.k_factor(GTC.dof(length), 99), rel=1e-9)


def test_effective_degrees_of_freedom() -> None:
    # JCGM 100:2008, G.4.1, example [from memory; reproduced]
    relative, dof = (0.25, 0.57, 0.82), (9.0, 4.0, 14.0)
    found = effective_dof(math.hypot(*relative), relative, dof)
    assert found == pytest.approx(18.998742314267954, rel=1e-12)  # printed 19.0
    assert effective_dof(1.03, relative, dof) == pytest.approx(19.038201574909, rel=1e-9)
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


def test_what_the_step_of_a_display_hides() -> None:
    # JCGM 100:2008, F.2.2.1 [from memory; reproduced]
    assert resolution_u(1.0) == pytest.approx(0.2886751345948129, rel=1e-12)  # printed 0.29
    assert proven(Repeatability(0.0, 2), 0.01).sd_mm == pytest.approx(0.0028868, abs=1e-7)
