"""Readings that stood still at their highest, of which nobody can say whether the crank stood too."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from contract.gauge import GaugeFacts
from contract.result import SurfaceCheck
from grading.assess import judge
from grading.evidence import StopQuestion, Sweep
from tests.grading.samples import EXAMPLE

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def sweep() -> Sweep:
    """0.10 mm of 0.28 mm: a plunger held at a crest could hide that it is over."""
    angle = np.linspace(0, 366, 500)
    noise = np.random.default_rng(3).normal(0, 0.0006, angle.size)
    value = np.round((0.05 * np.cos(np.deg2rad(angle - 40)) + noise) / 0.001) * 0.001
    u = np.sqrt(0.5**2 + 120**2 * (angle % 120 / 120) * (1 - angle % 120 / 120) / 3)
    gauge = GaugeFacts("rim-1", 0.001, 0.004)
    return Sweep("rim", angle, value, u, angle / 12, gauge, angles_run_on=True)


def test_it_is_within_where_they_did_not(sweep: Sweep) -> None:
    assert judge("rim", [sweep], EXAMPLE).outcome == "within"


def test_it_is_unclear_and_says_what_to_do(sweep: Sweep) -> None:
    found = judge("rim", [replace(sweep, stood_mm=0.05)], EXAMPLE)
    assert found.outcome == "unclear"
    assert "the readings stood still at 0.050 mm" in found.reason
    assert "without a stop" in found.reason


def test_two_sweeps_that_did_not_stop_there_settle_it(sweep: Sweep) -> None:
    stood = replace(sweep, stood_mm=0.05)
    assert judge("rim", [stood, sweep], EXAMPLE).outcome == "unclear"
    assert judge("rim", [stood, sweep, sweep], EXAMPLE).outcome == "within"


def test_an_over_stays_one(sweep: Sweep) -> None:
    over = replace(sweep, value_mm=4 * sweep.value_mm, stood_mm=0.2)
    assert judge("rim", [over], EXAMPLE).outcome == "over"


def test_so_small_a_movement_hides_nothing_that_is_over(sweep: Sweep) -> None:
    """Of 0.06 mm at most three quarters are hidden."""
    small = replace(sweep, value_mm=np.round(0.6 * sweep.value_mm, 3), stood_mm=0.03)
    assert judge("rim", [small], EXAMPLE).outcome == "within"


def test_a_question_comes_before_all_else(sweep: Sweep) -> None:
    asked = StopQuestion(120.0, ((43.0, 6.5), (51.0, 30.0)), "which stop was it?")
    found = judge("rim", [replace(sweep, question=asked)], EXAMPLE)
    assert isinstance(found, SurfaceCheck)
    assert (found.outcome, found.reason) == ("invalid", "which stop was it?")
    assert found.asks is not None
    assert found.asks.mark_deg == 120.0
    assert [(stop.at_s, stop.lasted_s) for stop in found.asks.stops] == [(43.0, 6.5), (51.0, 30.0)]


def test_where_there_is_nothing_to_choose_from_nothing_is_asked(sweep: Sweep) -> None:
    found = judge("rim", [replace(sweep, question=StopQuestion(120.0, (), "no stop is seen"))], EXAMPLE)
    assert isinstance(found, SurfaceCheck)
    assert (found.outcome, found.reason, found.asks) == ("invalid", "no stop is seen", None)
