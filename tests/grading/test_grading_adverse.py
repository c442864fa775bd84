"""The study of bad days is what it says it is: truths as stated, days that come again, counts that add up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from grading.evidence import F64
from tests.grading.adverse.catalogue import BY_NAME, CATALOGUE, chosen
from tests.grading.adverse.day import DENSE_DEG, LIMIT_MM, NEAR_MM, Day, Mixed
from tests.grading.adverse.regime import Regime
from tests.grading.adverse.study import SEED, Graded, grade, run, tasks
from tests.grading.adverse.summary import Count, row, unmet


def test_every_regime_has_a_name_of_its_own() -> None:
    assert len(BY_NAME) == len(CATALOGUE)


@pytest.mark.parametrize("regime", CATALOGUE, ids=lambda regime: regime.name.replace(" ", "-"))
def test_every_regime_makes_sweeps_of_its_day(regime: Regime) -> None:
    day = Day(SEED, regime.name, 5, regime.truths_mm)
    attempts = regime.build(day)
    assert attempts
    for sweep in attempts:
        assert sweep.surface == day.surface
        assert sweep.gauge.resolution_mm == day.gauge.resolution_mm
        sizes = {sweep.angle_deg.size, sweep.value_mm.size, sweep.angle_u_deg.size, sweep.time_s.size}
        assert len(sizes) == 1
        assert np.isfinite(sweep.value_mm).all()


def test_the_conditions_are_crossed() -> None:
    days = [Day(1, "any", number) for number in range(48)]
    assert len({(day.truth_mm, day.gauge.resolution_mm, day.surface) for day in days}) == 48
    assert sorted(round(1000 * (truth - LIMIT_MM)) for truth in NEAR_MM) == [-20, -10, -5, -2, 2, 5, 10, 20]


def test_a_form_on_another_has_the_true_tir() -> None:
    day = Day(1, "any", 0)
    for height in (0.0, 0.01, 0.2, 5.0):

        def seventh(angle: F64, height: float = height) -> F64:
            return np.asarray(height * np.cos(np.deg2rad(7 * angle)))

        form = Mixed(day.eccentric(), seventh, day.truth_mm)
        assert np.ptp(form(DENSE_DEG)) == pytest.approx(day.truth_mm, abs=1e-9)
        assert form.tir == pytest.approx(day.truth_mm, abs=1e-9)


@pytest.mark.slow
def test_a_day_comes_again_alone_and_in_another_process() -> None:
    regimes = chosen(["slip", "marks, exact"])
    here = {(g.regime, g.number): g for g in run(regimes, 8)}
    there = {(g.regime, g.number): g for g in run(regimes, 8, processes=2)}
    assert len(here) == 8
    for day, graded in here.items():
        _comes_again(graded, there[day])
    _comes_again(here["slip", 1], grade(SEED, "slip", 1))


def _comes_again(once: Graded, again: Graded) -> None:
    """To a nanometre: sums over one thread or more are rounded in another order."""
    assert once.outcome == again.outcome
    assert once.estimate_mm == pytest.approx(again.estimate_mm, abs=1e-6)
    assert once.u_mm == pytest.approx(again.u_mm, abs=1e-6)


def test_days_are_shared_evenly() -> None:
    shared = tasks(CATALOGUE[:3], 8)
    assert [sum(name == r.name for name, _ in shared) for r in CATALOGUE[:3]] == [3, 3, 2]


def test_a_name_that_fits_nothing_is_said() -> None:
    with pytest.raises(ValueError, match="no regime or group is called 'slop'"):
        chosen(["slop"])


def _graded(truth_mm: float, outcome: str, estimate_mm: float | None, u_mm: float | None) -> Graded:
    return Graded("slip", 0, truth_mm, outcome, estimate_mm, u_mm, "", 1.0, 1)


def test_counts_add_up() -> None:
    some = [
        _graded(0.29, "within", 0.27, 0.005),
        _graded(0.29, "over", 0.292, 0.005),
        _graded(0.27, "over", 0.285, 0.020),
        _graded(0.27, "unclear", 0.272, 0.020),
        _graded(0.27, "invalid", None, None),
    ]
    found = row("slip", some)
    assert (found.invalid.hits, found.unclear.hits, found.within.hits, found.over.hits) == (1, 1, 1, 2)
    assert (found.covered.hits, found.covered.of) == (3, 4)
    assert (found.kept.hits, found.kept.of) == (1, 2)
    assert (found.replaced.hits, found.replaced.of) == (1, 3)
    assert found.median_u == pytest.approx(12.5)
    assert unmet(BY_NAME["slip"], found) == [
        "slip: wrongly kept 50.0 %, at most 4 % is asked",
    ]
    seen = replace(BY_NAME["slip"], short=None)
    assert unmet(seen, found) == [
        "slip: wrongly kept 50.0 %, at most 1 % is asked",
        "slip: wrongly replaced 33.3 %, at most 3 % is asked",
    ]


def test_chance_is_allowed_for() -> None:
    """Mean and three standard deviations: 1 % of 1 000 is 10 within 3.15, three times over 9.4."""
    assert not Count(19, 1000).above(0.01)
    assert Count(20, 1000).above(0.01)
    assert not Count(0, 0).above(0.01)
