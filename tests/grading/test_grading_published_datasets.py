"""Statistics against NIST reference data and published gauge studies."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats

from grading.gauge.anova import crossed, one_way
from grading.gauge.repeats import repeatability_of_lifts
from grading.gauge.study import study

DATA = Path(__file__).parent / "data"
SETS: dict[str, Any] = tomllib.loads((DATA / "reference_datasets.toml").read_text())
STUDIES: dict[str, Any] = tomllib.loads((DATA / "gauge_studies.toml").read_text())


@pytest.mark.parametrize("name", ["lottery", "michelson", "lew", "mavro"])
def test_standard_deviation(name: str) -> None:
    # NIST/ITL Statistical Reference Datasets, certified values [read in source]
    data = SETS[name]
    found = repeatability_of_lifts(data["y"])
    assert found.sd_mm == pytest.approx(data["sd"], rel=data["rel_sd"])
    assert found.dof == len(data["y"]) - 1


@pytest.mark.parametrize(
    ("first", "pair", "repeats", "sd", "rel"),
    [
        (10_000_001.0, (10_000_003.0, 10_000_002.0), 1, 1.0, 0.0),
        (1.2, (1.1, 1.3), 500, 0.1, 1e-14),
        (1_000_000.2, (1_000_000.1, 1_000_000.3), 500, 0.1, 1e-9),
        (10_000_000.2, (10_000_000.1, 10_000_000.3), 500, 0.1, 1e-7),
    ],
)
def test_numerical_accuracy(
    first: float, pair: tuple[float, float], repeats: int, sd: float, rel: float
) -> None:
    # NIST/ITL Statistical Reference Datasets, NumAcc1 to NumAcc4 [read in source]; binary input
    # rounding limits what the last two can give
    found = repeatability_of_lifts([first, *(pair * repeats)])
    assert found.sd_mm == pytest.approx(sd, rel=rel, abs=0.0)


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
    figures = study(readings)
    assert figures.measuring.sd_mm**2 == pytest.approx(data["var_gauge"], rel=1e-10)
    assert figures.parts.sd_mm**2 == pytest.approx(data["var_part"], rel=1e-10)
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
