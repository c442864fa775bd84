"""Range factors, geometry and temperature against handbook tables and closed forms."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from grading.gauge.corrections import lever_true_mm, plunger_excess, thermal_growth_mm
from grading.gauge.ranges import c4, range_cdf, range_factors

TABLE = tomllib.loads((Path(__file__).parent / "data" / "tables.toml").read_text())["ranges"]


@pytest.mark.parametrize("i", range(len(TABLE["n"])), ids=lambda i: f"n={TABLE['n'][i]}")
def test_factors_of_the_range_and_of_the_standard_deviation(i: int) -> None:
    # ASTM E2587, ISO 7870-2 [printed tables from memory, these digits computed]
    n = TABLE["n"][i]
    found = range_factors(n)
    assert found.d2 == pytest.approx(TABLE["d2"][i], abs=1e-6)
    assert found.d3 == pytest.approx(TABLE["d3"][i], abs=1e-4)
    assert c4(n) == pytest.approx(TABLE["c4"][i], abs=1e-6)


def test_exact_factors() -> None:
    # d2(2) = 2 / sqrt(pi), d2(3) = 3 / sqrt(pi) exactly
    assert range_factors(2).d2 == pytest.approx(1.1283791670955126, rel=1e-12)
    assert range_factors(3).d2 == pytest.approx(1.692568750643269, rel=1e-12)
    assert c4(2) == pytest.approx(math.sqrt(2.0 / math.pi), rel=1e-14)


def test_noise_alone_spreads_eight_readings() -> None:
    # d2(8), d3(8) for 3 um of noise [computed]: an even part shows a spread of 8.5 um
    found = range_factors(8)
    assert 0.003 * found.d2 == pytest.approx(0.008541601836271666, rel=1e-4)
    assert 0.003 * found.d3 == pytest.approx(0.0024594, rel=1e-4)
    rng = np.random.default_rng(8)
    ranges = np.ptp(rng.normal(0.0, 0.003, (200_000, 8)), axis=1)
    assert ranges.mean() == pytest.approx(0.003 * found.d2, rel=0.002)


@pytest.mark.slow
def test_distribution_of_the_range_by_an_independent_library() -> None:
    # the studentised range with infinite degrees of freedom is the range in standard deviations
    for w, n in ((0.5, 2), (2.0, 3), (3.0, 8), (5.0, 8)):
        assert range_cdf(w, n) == pytest.approx(stats.studentized_range.cdf(w, n, np.inf), abs=1e-7)
    assert range_cdf(0.0, 8) == 0.0
    with pytest.raises(ValueError, match="at least 2"):
        range_cdf(1.0, 1)
    with pytest.raises(ValueError, match="at least 2"):
        c4(1)


@pytest.mark.parametrize(
    ("angle", "factor", "rounded"),
    [
        (5, 0.9961946980917455, 1.0), (10, 0.984807753012208, 0.98), (15, 0.9659258262890683, 0.97),
        (20, 0.9396926207859084, 0.94), (25, 0.9063077870366499, 0.91), (30, 0.8660254037844387, 0.87),
        (35, 0.8191520442889918, 0.82), (40, 0.766044443118978, 0.77), (45, 0.7071067811865476, 0.71),
        (50, 0.6427876096865394, 0.64), (60, 0.5000000000000001, 0.50),
    ],
)  # fmt: skip
def test_lever_indicator(angle: int, factor: float, rounded: float) -> None:
    # handbook rule: true = reading x cos(angle) [factors for 10 to 60 read in transcription; computed]
    assert lever_true_mm(1.0, angle) == pytest.approx(factor, abs=1e-12)
    assert round(lever_true_mm(1.0, angle), 2) == rounded


def test_lever_indicator_example() -> None:
    # a reading of 0.2 mm at 10, 20 and 30 degrees [computed]
    assert [round(lever_true_mm(0.2, a), 3) for a in (10, 20, 30)] == [0.197, 0.188, 0.173]


def test_tilted_plunger() -> None:
    # 1 / cos - 1, about half the square of the angle [computed]
    expected = (0.00015232804390774568, 0.0006095442988216515, 0.0038198375433473597)
    assert [plunger_excess(a) for a in (1, 2, 5)] == pytest.approx(expected, abs=1e-12)
    assert plunger_excess(2) == pytest.approx(math.radians(2) ** 2 / 2, rel=0.001)
    with pytest.raises(ValueError, match="below 90"):
        plunger_excess(90.0)


def test_thermal_growth() -> None:
    # ISO 1:2022, 20 degrees C; steel 11.5e-6 / K (JCGM 100:2008, H.1) [read in transcription; reproduced]
    cases = ((50.0, 10.0, 5.75), (25.0, 15.0, 4.3125), (300.0, 10.0, 34.5), (25.0, 1.0, 0.2875))
    for length, above, micrometres in cases:
        assert thermal_growth_mm(length, 20.0 + above) * 1000.0 == pytest.approx(micrometres, abs=1e-9)
