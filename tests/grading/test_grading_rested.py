"""A crank that rests is not a plunger that is held: what marks alone can tell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.signs import Signs
from contract.gauge import GaugeFacts
from grading.evidence import F64, Sweep
from grading.signs.rested import goes_on, may_have_rested, turned_deg
from grading.signs.still import Still
from tests.grading.adverse.study import grade
from tests.grading.swept import COARSE, FINE, RULES, swept

# Barred at about a third of a degree a reading; the stand is over these readings.
READINGS, FIRST, LAST = 600, 200, 400
STOOD = np.arange(FIRST, LAST)


def barred(at_deg: F64, tir_mm: float = 0.3, gauge: GaugeFacts = FINE) -> Sweep:
    """What an eccentric shows where the crank is at these angles; they are told as if it went on evenly."""
    value = 0.5 * tir_mm * np.sin(np.deg2rad(at_deg))
    return swept(np.asarray(value), np.linspace(-60.0, 60.0, at_deg.size), gauge, noise_mm=0.0005)


def path(*, stands_at: float, goes_on_at: float) -> F64:
    """Degrees: up to a place, a stand, and on from another one."""
    return np.concatenate(
        [
            np.linspace(stands_at - 60.0, stands_at, FIRST),
            np.full(LAST - FIRST, stands_at),
            np.linspace(goes_on_at, goes_on_at + 60.0, READINGS - LAST),
        ]
    )


@pytest.mark.parametrize("gauge", [FINE, COARSE])
@pytest.mark.parametrize(
    ("stands_at", "goes_on_at", "rests"),
    [
        (0.0, 0.0, True),  # on a slope
        (-30.0, -30.0, True),
        (180.0, 180.0, True),  # downward
        (0.0, 30.0, False),  # held, and free with a jump
        (-30.0, 30.0, False),
        (90.0, 90.0, False),  # at the crest, as at the end of its travel
        (70.0, 110.0, False),  # held until the surface comes back to it
        (250.0, 290.0, False),
    ],
)
def test_readings_that_go_on_as_they_came_leave_nothing_out(
    gauge: GaugeFacts, stands_at: float, goes_on_at: float, rests: bool
) -> None:
    assert (
        goes_on(barred(path(stands_at=stands_at, goes_on_at=goes_on_at), gauge=gauge), STOOD, Signs())
        is rests
    )


@given(stands_at=st.floats(0.0, 360.0), held_deg=st.floats(40.0, 80.0))
def test_a_plunger_that_is_held_never_goes_on_as_it_came(stands_at: float, held_deg: float) -> None:
    """An eccentric comes back to no level the way it left it, within a turn."""
    assert not goes_on(barred(path(stands_at=stands_at, goes_on_at=stands_at + held_deg)), STOOD, Signs())


def test_no_rest_is_where_the_readings_that_stand_are_not_of_one_time() -> None:
    rest = barred(path(stands_at=0.0, goes_on_at=0.0))
    assert goes_on(rest, STOOD, Signs())
    assert not goes_on(rest, np.delete(STOOD, 100), Signs())


@pytest.mark.parametrize("asked", [{"rest_steps": 0.0, "rest_noise": 0.0}, {"rest_further": 1e4}])
def test_how_a_rest_is_left_is_the_methods(asked: dict[str, float]) -> None:
    rest = barred(path(stands_at=0.0, goes_on_at=0.0))
    assert not goes_on(rest, STOOD, Signs.model_validate(asked))


def test_the_crank_turned_at_the_least_what_two_angles_differ_by_beyond_their_uncertainty() -> None:
    angle, u = np.array([0.0, 45.0, 90.0]), np.array([0.5, 20.0, 0.5])
    assert turned_deg(angle, u) == pytest.approx(89.0)
    assert turned_deg(angle[:2], u[:2]) == pytest.approx(24.5)
    assert turned_deg(np.array([30.0, 50.0]), np.array([20.0, 20.0])) == 0.0


def test_a_crank_that_came_from_one_mark_to_another_meanwhile_did_not_rest() -> None:
    """Angles that come of when the readings moved: between the marks all that stands may be a rest."""
    sweep = replace(barred(path(stands_at=90.0, goes_on_at=90.0)), angles_run_on=True)
    still = Still(float(sweep.angle_deg[FIRST]), float(sweep.angle_deg[LAST - 1]), 0.15, True, False)
    unknown = replace(sweep, angle_u_deg=np.full(READINGS, 7.5))
    assert may_have_rested(unknown, still, RULES, hides_none=False)
    sure = RULES.model_copy(update={"signs": Signs(turned_u=1.0)})
    assert not may_have_rested(unknown, still, sure, hides_none=False)
    assert not may_have_rested(sweep, still, RULES, hides_none=False)
    assert not may_have_rested(sweep, replace(still, from_deg=-30.0, to_deg=30.0), RULES, hides_none=True)
    assert may_have_rested(sweep, still, RULES, hides_none=True)
    # The seam of the sweep is no place of its own.
    over_it = replace(unknown, angle_deg=np.roll(np.mod(unknown.angle_deg, 360.0), 300))
    assert may_have_rested(over_it, still, RULES, hides_none=False)
    # By time alone a stand at a crest is no rest that the readings could show.
    assert not may_have_rested(replace(unknown, angles_run_on=None), still, RULES, hides_none=False)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("seed", "number", "outcome"),
    [
        (20261127, 4, "over"),  # on a slope
        (20261127, 14, "over"),
        (20261127, 20, "unclear"),
        (5, 15, "unclear"),  # for less than half of the time, on a coarse display
        (5, 115, "unclear"),  # where the crank hardly moves the plunger, so that the angles are far off
        (5, 28, "over"),  # a steep place of a face looks like a jump
    ],
)
def test_a_crank_that_rests_makes_no_sweep_invalid(seed: int, number: int, outcome: str) -> None:
    found = grade(seed, "strokes, exact", number)
    assert found.outcome == outcome
    assert found.estimate_mm is not None
    assert found.u_mm is not None
    assert abs(found.estimate_mm - found.truth_mm) < found.u_mm


@pytest.mark.slow
@pytest.mark.parametrize(
    ("seed", "name", "number", "outcome"),
    [
        (77, "strokes, stuck at the crest", 17, "unclear"),
        (20261127, "strokes, end of travel", 14, "invalid"),
        (20261127, "strokes, cut deep", 0, "invalid"),
        (20261127, "strokes, stuck anywhere", 0, "invalid"),
    ],
)
def test_a_plunger_that_is_held_while_the_crank_is_barred_in_strokes_is_never_within(
    seed: int, name: str, number: int, outcome: str
) -> None:
    found = grade(seed, name, number)
    assert found.outcome == outcome
    assert "stand" in found.reason
