"""Statistics against NIST reference data, JCGM 100:2008 H.3 and published gauge studies."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import GTC
import numpy as np
import pytest
from scipy import stats

from grading.gauge.anova import crossed, one_way
from grading.gauge.regression import fit_linear, line_design
from grading.gauge.repeats import Repeatability, mean_and_sd, pool
from grading.gauge.study import study, variance_components

DATA = Path(__file__).parent / "data"
SETS: dict[str, Any] = tomllib.loads((DATA / "reference_datasets.toml").read_text())
STUDIES: dict[str, Any] = tomllib.loads((DATA / "gauge_studies.toml").read_text())


@pytest.mark.parametrize("name", ["lottery", "michelson", "lew", "mavro"])
def test_mean_and_standard_deviation(name: str) -> None:
    # NIST/ITL Statistical Reference Datasets, certified values [read in source]
    data = SETS[name]
    mean, sd = mean_and_sd(data["y"])
    assert mean == pytest.approx(data["mean"], rel=1e-14)
    assert sd == pytest.approx(data["sd"], rel=data["rel_sd"])


@pytest.mark.parametrize(
    ("first", "pair", "repeats", "mean", "sd", "rel"),
    [
        (10_000_001.0, (10_000_003.0, 10_000_002.0), 1, 10_000_002.0, 1.0, 0.0),
        (1.2, (1.1, 1.3), 500, 1.2, 0.1, 1e-14),
        (1_000_000.2, (1_000_000.1, 1_000_000.3), 500, 1_000_000.2, 0.1, 1e-9),
        (10_000_000.2, (10_000_000.1, 10_000_000.3), 500, 10_000_000.2, 0.1, 1e-7),
    ],
)
def test_numerical_accuracy(
    first: float, pair: tuple[float, float], repeats: int, mean: float, sd: float, rel: float
) -> None:
    # NIST/ITL Statistical Reference Datasets, NumAcc1 to NumAcc4 [read in source]; binary input
    # rounding limits what the last two can give
    found = mean_and_sd([first, *(pair * repeats)])
    assert found[0] == pytest.approx(mean, rel=1e-14)
    assert found[1] == pytest.approx(sd, rel=rel, abs=0.0)


@pytest.mark.parametrize("name", ["norris", "noint1", "noint2", "pontius"])
def test_linear_regression(name: str) -> None:
    # NIST/ITL Statistical Reference Datasets, certified values [read in source]
    data = SETS[name]
    x, y = np.array(data["x"]), np.array(data["y"])
    found = fit_linear(np.column_stack([x**power for power in data["powers"]]), y)
    assert found.b == pytest.approx(data["b"], rel=data["rel"])
    assert found.u == pytest.approx(data["u"], rel=data["rel"])
    assert found.residual_sd == pytest.approx(data["residual_sd"], rel=data["rel"])
    assert found.sum_of_squares == pytest.approx(data["ss_residual"], rel=data["rel"])
    assert found.dof == data["dof"]


# JCGM 100:2008, H.3, table H.6: thermometer readings and corrections, degrees C [read in transcription]
READ = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
CORRECTION = np.array(
    [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
)


def test_calibration_line_of_a_thermometer() -> None:
    # JCGM 100:2008, H.3.3 to H.3.5 [read in transcription; reproduced]
    found = fit_linear(line_design(READ, about=20.0), CORRECTION)
    assert found.b == pytest.approx([-0.17120379013135, 0.0021826977398872894], abs=1e-9)
    assert found.u == pytest.approx([0.0028776, 0.0006679387773278232], abs=1e-7)
    assert found.residual_sd == pytest.approx(0.0034975639635052903, abs=1e-9)
    r = found.covariance[0, 1] / (found.u[0] * found.u[1])
    assert r == pytest.approx(-0.930429603093446, abs=1e-9)
    # printed: -0.1712(29), 0.00218(67), r = -0.93, s = 0.0035; at 30: -0.1494 with u = 0.0041
    b30, u30 = found.at(np.array([1.0, 10.0]))
    assert b30 == pytest.approx(-0.1493768127324772, abs=1e-9)
    assert u30 == pytest.approx(0.004138595752854954, abs=1e-9)


def test_calibration_line_by_independent_libraries() -> None:
    found = fit_linear(line_design(READ, about=20.0), CORRECTION)
    other = GTC.type_a.line_fit(READ - 20.0, CORRECTION)
    intercept, slope = other.a_b
    assert found.b == pytest.approx([intercept.x, slope.x], rel=1e-9)
    assert found.u == pytest.approx([intercept.u, slope.u], rel=1e-9)
    third = stats.linregress(READ - 20.0, CORRECTION)
    assert found.u == pytest.approx([third.intercept_stderr, third.stderr], rel=1e-9)


def test_five_instruments_by_five_replicates() -> None:
    # NIST/ITL Statistical Reference Datasets, SiRstv: one-way [read in source; components derived]
    data = STUDIES["five_instruments"]
    groups = [np.array(group) for group in data["groups"]]
    found = one_way(groups)
    assert (found.between.dof, found.within.dof) == (data["df_between"], data["df_within"])
    assert found.between.squares == pytest.approx(data["ss_between"], rel=1e-9)
    assert found.within.squares == pytest.approx(data["ss_within"], rel=1e-9)
    assert found.between.mean_square == pytest.approx(data["ms_between"], rel=1e-9)
    assert found.within.mean_square == pytest.approx(data["ms_within"], rel=1e-9)
    assert found.f_ratio == pytest.approx(data["F"], rel=1e-9)
    assert found.f_ratio == pytest.approx(stats.f_oneway(*groups).statistic, rel=1e-9)
    one_person = study(np.array(data["groups"])[:, None, :])
    assert one_person.repeatability.sd_mm == pytest.approx(data["repeatability_sd"], rel=1e-9)
    assert one_person.parts.sd_mm == pytest.approx(data["reproducibility_sd"], rel=1e-8)


def pooled(sds: list[float], dof: int) -> Repeatability:
    return pool([Repeatability(sd, dof) for sd in sds])


def test_check_standard_over_days_and_runs() -> None:
    # NIST/SEMATECH e-Handbook, 2.4.4.1, three levels of a nested study [data read in source, computed]
    data = STUDIES["check_standard_140"]
    level1 = [pooled(data[f"run{run}_sd"], data["df_each"]) for run in (1, 2)]
    assert [level.sd_mm for level in level1] == pytest.approx(data["level1_run"], rel=1e-9)
    both = pool(level1)
    assert both.sd_mm == pytest.approx(data["level1_pooled"], rel=1e-9)
    assert both.dof == data["level1_df"]
    runs = [mean_and_sd(data[f"run{run}_average"]) for run in (1, 2)]
    assert [sd for _, sd in runs] == pytest.approx(data["level2_run"], rel=1e-9)
    assert mean_and_sd([mean for mean, _ in runs])[1] == pytest.approx(data["level3"], rel=1e-9)


def test_one_probe_over_wafers_days_and_runs() -> None:
    # NIST/SEMATECH e-Handbook, 2.6.1.1 to 2.6.1.3 [data read in source, computed]
    data = STUDIES["probe_2362"]
    level1, level2, means = [], [], {}
    for run in (1, 2):
        rows = [row for row in data["rows"] if row[0] == run]
        level1.append(pooled([row[3] for row in rows], 5))
        days = []
        for wafer in sorted({row[1] for row in rows}):
            mean, sd = mean_and_sd([row[2] for row in rows if row[1] == wafer])
            days.append(Repeatability(sd, 5))
            means[run, wafer] = mean
        level2.append(pool(days))
    for name, levels in (("level1", level1), ("level2", level2)):
        assert [level.sd_mm for level in levels] == pytest.approx(data[f"{name}_run"], rel=1e-9)
        assert pool(levels).sd_mm == pytest.approx(data[name], rel=1e-9)
        assert pool(levels).dof == data[f"{name}_df"]
    wafers = sorted({wafer for _, wafer in means})
    level3 = pool([Repeatability(mean_and_sd([means[1, w], means[2, w]])[1], 1) for w in wafers])
    assert level3.sd_mm == pytest.approx(data["level3"], rel=1e-9)
    assert level3.dof == data["level3_df"]


def test_ten_parts_three_people_three_repeats() -> None:
    # Houf and Berman (1988) [data read in transcription, computed]
    data = STUDIES["ten_parts"]
    readings = np.array(data["rows"], dtype=float).reshape(10, 3, 3)
    found = crossed(readings)
    assert found.grand_mean == pytest.approx(data["grand_mean"], rel=1e-10)
    for source, name in (
        (found.rows, "part"),
        (found.columns, "operator"),
        (found.interaction, "interaction"),
        (found.within, "error"),
    ):
        assert source.mean_square == pytest.approx(data[f"ms_{name}"], rel=1e-10)
        assert source.dof == data[f"df_{name}"]
    components = variance_components(readings)
    assert components == pytest.approx(
        {
            "parts": data["var_part"],
            "persons": data["var_operator"],
            "persons on parts": data["var_interaction"],
            "repeats": data["var_repeatability"],
        },
        rel=1e-10,
    )
    figures = study(readings)
    assert figures.measuring.sd_mm**2 == pytest.approx(data["var_gauge"], rel=1e-10)
    assert figures.repeatability.sd_mm**2 == pytest.approx(data["var_repeatability"], rel=1e-10)
    reproducibility = figures.reproducibility
    assert reproducibility is not None
    assert reproducibility.sd_mm**2 == pytest.approx(
        data["var_operator"] + data["var_interaction"], rel=1e-10
    )
    total = figures.measuring.sd_mm**2 + figures.parts.sd_mm**2
    assert total == pytest.approx(data["var_total"], rel=1e-10)
    assert math.isclose(figures.dof, (1.8037037037037038**2) / _spread(data), rel_tol=1e-9)


def _spread(data: dict[str, float]) -> float:
    """Sum of (weight x mean square)^2 / dof: what Welch-Satterthwaite divides by (JCGM 100, G.2b)."""
    return sum(
        (weight * data[f"ms_{name}"]) ** 2 / data[f"df_{name}"]
        for name, weight in (("operator", 1 / 30), ("interaction", 9 / 30), ("error", 20 / 30))
    )
