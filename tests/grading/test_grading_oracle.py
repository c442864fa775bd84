"""The oracles are what they say: quick parts of `tests.benchmarks.oracle`."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom, norm

from tests.grading.adverse.catalogue import BY_NAME
from tests.grading.adverse.day import LIMIT_MM
from tests.grading.oracle.contact import stopped
from tests.grading.oracle.dents import kept_at_least
from tests.grading.oracle.fair import NONE, WAYS, by_prior, either, twin
from tests.grading.oracle.judged import mixed
from tests.grading.oracle.level import MOVES, weighed
from tests.grading.oracle.presses import asked
from tests.grading.oracle.sharp import sharp
from tests.grading.oracle.sound import sound
from tests.grading.oracle.study import HONEST, allowed, best_of, shares
from tests.grading.oracle.told import told
from tests.grading.oracle.untold import Untold
from tests.grading.oracle.walked import Walk, error_95_mm, information, sharpest
from tests.grading.oracle.world import World, know


def test_one_reading_is_known_as_a_textbook_has_it() -> None:
    """A level of prior 2 read once as 0 by a step of 1, noise 0.5: the chance of the step's interval, by the
    normal distribution function (scipy), to what Laplace's approximation is good for."""
    world = World(np.ones((1, 1)), np.array([2.0]), np.zeros((720, 1)))
    spread = (2.0**2 + 0.5**2) ** 0.5
    exact = float(np.log(norm.cdf(0.5 / spread) - norm.cdf(-0.5 / spread)))
    found = know(world, np.zeros(1), 1.0, 0.5)
    assert found.log_evidence == pytest.approx(exact, abs=0.15)
    assert found.mean[0] == pytest.approx(0.0, abs=1e-9)


def test_noise_may_be_told_for_each_reading() -> None:
    """The same of all, or the same for each; and a reading of much noise weighs next to nothing."""
    world = World(np.ones((2, 1)), np.array([2.0]), np.zeros((720, 1)))
    value = np.array([0.0, 1.0])
    assert know(world, value, 0.1, np.full(2, 0.3)).mean == pytest.approx(know(world, value, 0.1, 0.3).mean)
    found = know(world, value, 0.1, np.array([0.3, 30.0]))
    assert found.about_mm + found.mean[0] == pytest.approx(0.0, abs=0.05)


@pytest.mark.slow
def test_marks_pressed_twice_are_known_by_their_times() -> None:
    assert all(asked(told("marks, pressed twice", n)) for n in range(24))
    assert not any(asked(told("marks, exact", n)) for n in range(24))


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", ["angle error 1-3 deg, untold", "correlated noise", "readings lack around the start"]
)
def test_who_is_told_what_is_amiss_covers_it(name: str) -> None:
    found = [best.covered for best in best_of(name, 12)]
    assert binom.cdf(sum(bool(held) for held in found), 12, 0.95) > 0.005


def test_explanations_are_mixed_by_their_weight() -> None:
    parts = [(0.0, np.zeros(10)), (float(np.log(3.0)), np.ones(10))]
    assert mixed(parts, np.random.default_rng(1), 4000).mean() == pytest.approx(0.75, abs=0.03)


@pytest.mark.slow
def test_on_sound_sweeps_the_oracle_is_honest() -> None:
    """Of its 95 % intervals, the span error in them, hardly one misses."""
    found = [
        weighed(told(HONEST, n), MOVES["there-and-back drift"], np.random.default_rng(n)) for n in range(12)
    ]
    held = sum(abs(one.estimate_mm - one.truth_mm) <= one.u_mm for one in found)
    assert binom.cdf(held, 8, 0.95) > 0.005


@pytest.mark.slow
def test_an_end_of_travel_is_told_from_a_crest_on_a_fine_display() -> None:
    fine = [told("end of travel", n) for n in range(1, 13, 3)]
    assert all(stopped(one, sound(one)) > allowed(stopped, one.step_mm, 24) for one in fine)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "least"),
    [
        ("dents 5-15 deg at 12-36 stops", 0.05),
        ("dents 1-5 deg, 100-400 readings", 0.02),
    ],
)
def test_what_nobody_read_is_kept_by_anybody(name: str, least: float) -> None:
    """The aim for what cannot be seen is out of reach, or nearly: whatever is done with the readings."""
    found = shares(best_of(name, 80))
    assert least < found["kept"] < 0.15
    short = BY_NAME[name].short
    assert short is not None
    assert short.kept_max is not None
    assert found["kept"] < short.kept_max + 0.05


def test_a_twin_is_no_twin_where_the_dent_was_read() -> None:
    """Two dents under hundreds of readings are met by some."""
    days = [told("two dents, 200-3000 readings", n) for n in range(0, 24, 4)]
    assert all(one.day.truth_mm > LIMIT_MM for one in days)
    assert max(kept_at_least(one) for one in days) < 0.05


@pytest.mark.heavy
def test_a_base_that_moved_is_covered_by_who_is_told_that_it_may_have() -> None:
    for name in ("base returns", "there-and-back drift"):
        assert shares(best_of(name, 60))["covered"] > 0.9


@pytest.mark.slow
def test_a_dent_that_nobody_tells_of_is_found() -> None:
    """192, 148 and 78 um, 6 to 15 degrees wide, two by marks: to a tenth of the display's step or two."""
    errors = [sharp(n, 20260302) for n in (6, 49, 5)]
    assert all(each.is_dented and abs(each.sought) < 0.004 for each in errors)
    assert [each.by_marks for each in errors] == [True, True, False]


@pytest.mark.heavy
def test_who_is_told_the_angles_and_the_dent_is_sharp_on_a_coarse_display() -> None:
    """95 % of the errors lie within 4 um, the gauge's span error taken out."""
    errors = [abs(sharp(n, 20260302).told) for n in range(200)]
    assert np.quantile(errors, 0.95) < 0.004


def test_a_reading_told_to_a_step_tells_what_its_chances_tell() -> None:
    """Of fine steps as much as the reading itself, 1 / noise^2; in the middle of a wide one nothing, at its
    edge what a yes or no tells, 2 / (pi noise^2); between as the chances of its steps change."""
    assert information(np.array([0.0003, 0.0]), 0.01, 0.001) == pytest.approx(1e4, rel=0.01)
    assert information(np.array([0.05]), 0.001, 0.1) == pytest.approx(0.0, abs=1e-6)
    assert information(np.array([0.1]), 0.001, 0.1) == pytest.approx(2e6 / np.pi, rel=1e-3)
    edges = np.arange(-8, 9) * 0.01
    below, at, above = (np.diff(norm.cdf((edges - x) / 0.006)) for x in (0.00299, 0.003, 0.00301))
    known = np.sum(((above - below) / 0.00002) ** 2 / np.maximum(at, 1e-12))
    assert information(np.array([0.003]), 0.006, 0.01) == pytest.approx(known, rel=1e-3)


@pytest.mark.parametrize("number", [0, 3, 8, 9])
def test_the_walk_goes_by_the_slope_of_what_it_says_is_likely(number: int) -> None:
    """By encoder and by marks, with and without a dent: against differences, along a direction of its own."""
    walk = Walk(number, 3)
    off = 1e-6 * walk.place * np.random.default_rng(number).standard_normal(walk.place.size)
    up = walk.likely(walk.place + off)[0] - walk.likely(walk.place - off)[0]
    assert up == pytest.approx(2 * float(walk.likely(walk.place)[1] @ off), rel=1e-3, abs=1e-6)


@pytest.mark.slow
def test_the_walk_holds_the_truth_and_is_sharp() -> None:
    """The truth is one of what it takes for likely; 4 um are within the readings by far."""
    found = [sharpest(number, 3, steps=60) for number in (0, 3, 8, 10)]
    assert all(np.quantile(each.off_mm, 0.01) <= 0.0 <= np.quantile(each.off_mm, 0.99) for each in found)
    assert 0.001 < error_95_mm(found) < 0.004


def test_who_is_told_less_begins_at_the_truth_and_goes_by_the_slope() -> None:
    """By marks, with a dent: the surface is the true one to a micrometre, and the crank is at each mark."""
    walk = Untold(11, 3)
    assert walk.tir_mm(walk.place) == pytest.approx(walk.true_mm, abs=0.001)
    at = walk.pace.angle_deg(walk.place[walk.pace_at :], walk.pressed)
    assert np.allclose(at, walk.marks_deg, atol=2.0)
    off = 1e-6 * walk.place * np.random.default_rng(3).standard_normal(walk.place.size)
    up = walk.likely(walk.place + off)[0] - walk.likely(walk.place - off)[0]
    assert up == pytest.approx(2 * float(walk.likely(walk.place)[1] @ off), rel=1e-3, abs=1e-6)


def test_a_twin_is_the_same_day_with_nothing_moved() -> None:
    one, other = told("slip", 4), twin("slip", 4)
    assert np.ptp(one.day.moved_mm) > 0.004
    assert np.array_equal(one.path_deg, other.path_deg)
    apart = one.sweep.value_mm - one.day.moved_mm - other.sweep.value_mm
    assert float(np.abs(apart).max()) <= 1.01 * one.step_mm


@pytest.mark.slow
@pytest.mark.parametrize("name", ["base returns", "knock and back"])
def test_who_is_not_told_that_it_moved_tells_it_from_its_twin(name: str) -> None:
    """On the fine display, on average; who takes it for next to impossible is no less sharp on sound ones."""
    rng = np.random.default_rng(2)
    days = [(told(name, n), twin(name, n)) for n in (1, 4, 7, 10)]
    odds = [[either(one, WAYS[name](one), rng).log_odds for one in pair] for pair in days]
    assert np.mean([moved - sound for moved, sound in odds]) > 3.0
    one = days[0][1]
    found = either(one, WAYS[name](one), rng)
    assert by_prior(one, found, NONE, rng).random_u_mm == pytest.approx(
        by_prior(one, found, 0.02, rng).random_u_mm, rel=0.25
    )
