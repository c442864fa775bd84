"""Studies: intervals that cover, estimates that are right on average, and what is told."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from scipy import stats

from grading.evidence import F64
from grading.gauge import study as module
from grading.gauge.anova import crossed, one_way
from grading.gauge.study import EXACT, GENERALISED, LARGE_SAMPLE, study, telling

TRUTH = {"parts": 0.040, "persons": 0.0012, "persons on parts": 0.0008, "repeats": 0.0020}


def simulated(rng: np.random.Generator, parts: int = 10, people: int = 5, repeats: int = 3) -> F64:
    values: F64 = (
        0.2
        + rng.normal(0.0, TRUTH["parts"], (parts, 1, 1))
        + rng.normal(0.0, TRUTH["persons"], (1, people, 1))
        + rng.normal(0.0, TRUTH["persons on parts"], (parts, people, 1))
        + rng.normal(0.0, TRUTH["repeats"], (parts, people, repeats))
    )
    return values


@pytest.mark.slow
def test_components_are_right_on_average_and_intervals_cover(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "DRAWS", 2_000)  # enough for each; the tail is averaged over studies
    rng = np.random.default_rng(12)
    runs = 600
    people = math.hypot(TRUTH["persons"], TRUTH["persons on parts"])
    truth = {
        "repeatability": TRUTH["repeats"],
        "reproducibility": people,
        "measuring": math.hypot(people, TRUTH["repeats"]),
        "parts": TRUTH["parts"],
    }
    held = dict.fromkeys(truth, 0)
    sums = dict.fromkeys(truth, 0.0)
    for _ in range(runs):
        found = study(simulated(rng))
        for name, sd in truth.items():
            spread = getattr(found, name)
            sums[name] += spread.sd_mm**2 / runs
            held[name] += spread.low_mm <= sd <= spread.high_mm
    assert {name: math.sqrt(v) for name, v in sums.items()} == pytest.approx(truth, rel=0.03)
    # four standard deviations of the count below 95 %; generalised and large-sample intervals err
    # towards covering more
    for name, count in held.items():
        assert count / runs >= 0.95 - 4.0 * math.sqrt(0.95 * 0.05 / runs), name
    assert held["repeatability"] / runs == pytest.approx(0.95, abs=0.036)


def test_mean_squares_are_those_of_a_plain_two_way_analysis() -> None:
    values = simulated(np.random.default_rng(4), 6, 3, 2)
    found = crossed(values)
    total = float(np.sum((values - values.mean()) ** 2))
    parts = (found.rows, found.columns, found.interaction, found.within)
    assert sum(source.squares for source in parts) == pytest.approx(total, rel=1e-9)
    assert sum(source.dof for source in parts) == values.size - 1
    # repetition within cells, by a one-way analysis of an independent library
    cells = list(values.reshape(18, 2))
    one = one_way(cells)
    assert one.within.squares == pytest.approx(found.within.squares, rel=1e-12)
    assert one.f_ratio == pytest.approx(float(stats.f_oneway(*cells).statistic), rel=1e-9)


def test_each_interval_names_its_method_and_holds_its_estimate() -> None:
    found = study(simulated(np.random.default_rng(7)))
    assert found.reproducibility is not None
    spreads = (found.repeatability, found.reproducibility, found.measuring, found.parts)
    assert [s.method for s in spreads] == [EXACT, GENERALISED, LARGE_SAMPLE, GENERALISED]
    for spread in spreads:
        assert spread.low_mm <= spread.sd_mm <= spread.high_mm
    assert found.measuring.sd_mm == pytest.approx(
        math.hypot(found.repeatability.sd_mm, found.reproducibility.sd_mm), rel=1e-9
    )
    assert [row.name for row in found.table] == ["parts", "persons", "persons on parts", "repeats"]


def test_the_same_study_gives_the_same_figures_whatever_order_people_stand_in() -> None:
    values = simulated(np.random.default_rng(8))
    assert study(values) == study(values)
    turned = study(values[::-1, ::-1, ::-1].copy())
    assert turned.measuring.sd_mm == pytest.approx(study(values).measuring.sd_mm, rel=1e-12)


def test_a_component_below_zero_counts_as_zero_and_is_named() -> None:
    # People agree better than repetition lets one expect; parts are all alike.
    values = 0.2 + np.array([[[0.0, 0.002], [0.002, 0.0]], [[0.002, 0.0], [0.0, 0.002]]])
    found = study(values)
    assert found.reproducibility is not None
    assert found.reproducibility.sd_mm == 0.0
    assert "reproducibility" in found.negative
    assert found.measuring.sd_mm == found.repeatability.sd_mm


def test_one_person_gives_repeatability_only() -> None:
    values = simulated(np.random.default_rng(9), people=1)
    found = study(values)
    assert found.reproducibility is None
    assert found.measuring == found.repeatability
    assert found.dof == 20
    alike = study(np.array([[[0.1, 0.2]], [[0.2, 0.1]]]))
    assert alike.negative == ("parts",)


def test_what_can_be_told() -> None:
    found = study(simulated(np.random.default_rng(10)))
    tells = telling(found)
    assert tells.unclear_mm == pytest.approx(stats.t.ppf(0.95, found.dof) * found.measuring.sd_mm)
    assert tells.told_mm == pytest.approx(2.0 * tells.unclear_mm)
    assert tells.told_high_mm >= tells.told_mm
    assert telling(found, 0.99).told_mm > tells.told_mm
    # a coarse display is not believed
    assert telling(found, step_mm=0.1).unclear_mm > 0.1 / math.sqrt(12.0)
    with pytest.raises(ValueError, match="probability"):
        telling(found, 0.5)


@pytest.mark.slow
def test_a_part_that_far_from_the_limit_is_told_that_often() -> None:
    found = dataclasses.replace(study(simulated(np.random.default_rng(11))), dof=math.inf)
    tells = telling(found)
    rng = np.random.default_rng(12)
    readings = 0.28 + tells.told_mm + rng.normal(0.0, found.measuring.sd_mm, 100_000)
    assert np.mean(readings >= 0.28 + tells.unclear_mm) == pytest.approx(0.95, abs=0.003)


@pytest.mark.slow
def test_the_cautious_distance_holds_as_often_as_the_confidence_says_and_the_plain_one_does_not(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # One person: the study's variance is chi-square about the true one (normal theory), so its upper bound
    # fails in 1 of 40 studies of 95 % two-sided confidence; the chance itself is scipy's normal one.
    monkeypatch.setattr(module, "DRAWS", 100)  # of the parts, which nothing here asks for
    rng, sd, runs = np.random.default_rng(21), 0.002, 2_000
    held = {"told_mm": 0, "told_high_mm": 0}
    for _ in range(runs):
        values = rng.normal(0.0, 0.05, (4, 1, 1)) + rng.normal(0.0, sd, (4, 1, 3))
        tells = telling(study(values))
        for name in held:
            reached = stats.norm.cdf((getattr(tells, name) - tells.unclear_mm) / sd)
            held[name] += bool(reached >= 0.95)
    assert held["told_high_mm"] / runs >= 0.975 - 3.0 * math.sqrt(0.975 * 0.025 / runs)
    assert 0.45 < held["told_mm"] / runs < 0.75


def test_the_cautious_distance_is_made_of_the_chi_square_bound() -> None:
    values = simulated(np.random.default_rng(22), people=1)
    found = study(values)
    squares = float(np.sum((values - values.mean(axis=2, keepdims=True)) ** 2))
    bound = math.sqrt(squares / stats.chi2.ppf(0.025, 20))
    assert found.measuring.high_mm == pytest.approx(bound, rel=1e-9)
    assert telling(found).told_high_mm == pytest.approx(2.0 * stats.norm.ppf(0.95) * bound, rel=1e-9)


def test_what_cannot_be_studied_is_refused() -> None:
    for values in (
        np.zeros((1, 2, 2)),
        np.zeros((2, 0, 2)),
        np.zeros((2, 2, 1)),
        np.zeros((2, 2)),
        np.zeros((2, 2, 2)),
        np.full((2, 2, 2), math.nan),
    ):
        with pytest.raises(ValueError, match=r"at least|numbers"):
            study(values)
    for groups in ([np.ones(3)], [np.ones(3), np.ones(0)], [np.ones(1), np.ones(1)]):
        with pytest.raises(ValueError, match="at least"):
            one_way(groups)
    with pytest.raises(ValueError, match="at least two"):
        crossed(np.zeros((2, 2, 1)))
