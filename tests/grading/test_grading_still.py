"""Readings that stand still while the crank turns: held, or a plateau of the surface's own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from config.signs import Signs
from contract.gauge import GaugeFacts
from grading.evidence import F64
from grading.kinds.surfaces import judge_surface
from grading.runout.ways import held_arc, wander_of
from grading.signs.faults import still_said
from grading.signs.prepared import prepare
from grading.signs.still import Still, core_of
from tests.grading.adverse.day import LIMIT_MM
from tests.grading.adverse.study import SEED, grade
from tests.grading.samples import EXAMPLE
from tests.grading.swept import COARSE, FINE, RULES, eccentric, judged, swept, turn


@pytest.mark.parametrize("gauge", [FINE, COARSE])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_the_end_of_travel_is_named(gauge: GaugeFacts, sign: float) -> None:
    """0.31 that reads as 0.24: the readings stand at their highest, or at their lowest."""
    angle = turn()
    value = sign * eccentric(angle, 0.31)
    stop = value.min() + 0.24 if sign > 0 else value.max() - 0.24
    held = np.minimum(value, stop) if sign > 0 else np.maximum(value, stop)
    check = judged(swept(held, angle, gauge, noise_mm=0.0))
    assert check.outcome == "invalid"
    assert "the end of the gauge's travel" in check.reason
    assert judged(swept(value, angle, gauge)).outcome != "invalid"


@pytest.mark.parametrize("noise_mm", [0.0004, 0.0008, 0.0012])
def test_an_end_of_travel_is_seen_through_a_gauges_noise(noise_mm: float) -> None:
    """The last digit goes on flickering while the plunger stands at its stop."""
    angle = turn()
    value = eccentric(angle, 0.31)
    check = judged(swept(np.minimum(value, value.min() + 0.24), angle, noise_mm=noise_mm))
    assert check.outcome == "invalid"
    assert "the end of the gauge's travel" in check.reason


def test_a_plunger_that_sticks_is_placed() -> None:
    angle = turn()
    value = eccentric(angle, 0.26) + np.random.default_rng(2).normal(0, 0.001, angle.size)
    stuck = (angle >= 100.0) & (angle < 160.0)
    value[stuck] = value[int(np.argmax(stuck))]
    check = judged(swept(value, angle, noise_mm=0.0))
    assert check.outcome == "invalid"
    assert "from 100 to 159 degrees" in check.reason
    assert "the plunger sticks" in check.reason


@pytest.mark.parametrize(
    ("from_deg", "to_deg", "free_deg", "said"),
    [(20, 80, 80, "fault"), (60, 90, 90, "doubt"), (20, 80, 110, "nothing")],
)
@pytest.mark.parametrize("draw", [1, 2])
def test_a_plunger_that_sticks_and_comes_free_is_no_jump(
    from_deg: int, to_deg: int, free_deg: int, said: str, draw: int
) -> None:
    """What stands flickers on, so that no narrow band holds all of it. What was not read is a gap, and one
    of more than 50 degrees is too wide. A knock elsewhere frees nothing. Which arcs are found is another
    test's: of this one a part is, whatever the noise."""
    angle = turn()
    value = eccentric(angle, 0.2)
    stuck = (angle >= from_deg) & (angle < to_deg)
    value[stuck] = value[int(np.argmax(stuck))]
    # Up to where it comes free what stood goes on in parallel to the surface.
    late = (angle >= to_deg) & (angle < free_deg)
    value[late] += value[stuck][0] - eccentric(angle, 0.2)[stuck][-1]
    noise = np.random.default_rng(draw).normal(0, 0.0008, angle.size)
    one = prepare(swept(value + noise, angle, noise_mm=0.0), RULES)
    part = Still(from_deg + 3.0, to_deg - 7.0, float(value[stuck][0]), False, False, passes=0.15)
    level = [wander_of(one.seen, RULES)]
    held = held_arc([replace(one, still=(part,))], level, False, np.random.default_rng(1), EXAMPLE.rim)
    where = f"to {to_deg - 1 if to_deg == 80 else to_deg} degrees while the crank turns"
    assert [jump.height_mm < -0.02 for jump in one.jumps] == [True]
    assert (held.fault is not None and where in held.fault) == (said == "fault")
    assert (held.doubt is not None and where in still_said(held.doubt[0])) == (said == "doubt")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "number"), [("stuck arc", 176), ("stuck at a crest", 132), ("stuck at a crest", 168)]
)
def test_what_a_plunger_that_came_free_did_not_read_is_not_within(name: str, number: int) -> None:
    """The jump was taken for a knock, and the rest of the turn knows nothing of what was hidden."""
    found = grade(71001, name, number)
    assert found.truth_mm > LIMIT_MM
    assert found.outcome == "invalid"
    assert "the readings stand" in found.reason


@pytest.mark.slow
@pytest.mark.parametrize("number", [162, 186, 392])
def test_a_crest_that_may_be_cut_off_is_not_within(number: int) -> None:
    """One smooth surface in ten passes where the readings stand: too many for a fault, too few to trust."""
    found = grade(SEED, "end of travel", number)
    assert found.truth_mm > LIMIT_MM
    assert found.outcome == "unclear"
    assert "the readings stand" in found.reason


@pytest.mark.slow
@pytest.mark.parametrize(("number", "outcome"), [(30, "invalid"), (54, "unclear")])
def test_what_stands_without_a_flicker_was_held_where_all_else_flickers(number: int, outcome: str) -> None:
    """The noise is a third of a step only, but so many readings come that the surface cannot be it."""
    found = grade(SEED, "end of travel", number)
    assert found.truth_mm > LIMIT_MM
    assert found.outcome == outcome
    assert "the readings stand" in found.reason


@pytest.mark.slow
@pytest.mark.parametrize("number", [92, 288, 383])
def test_a_plateau_that_the_surface_itself_moves_over_is_in_doubt_and_no_fault(number: int) -> None:
    """Nothing is amiss; over 60 to 103 degrees the readings move by a step of the display, in order."""
    found = grade(SEED, "honest at the limit", number)
    assert found.outcome == "unclear"
    assert found.u_mm is not None
    assert found.u_mm < 0.02


def test_what_surely_stood_of_an_arc_is_its_longest_stretch_of_one_value() -> None:
    angle = np.arange(0.0, 366.0)
    value = eccentric(angle, 0.2)
    value[100:160] = value[100] = 0.1
    value[130] += 0.01  # a flicker
    sweep = swept(value, angle, COARSE, noise_mm=0.0)
    wide = Still(96.0, 164.0, 0.1, False, False)
    core = core_of(sweep, wide, Signs())
    assert core is not None
    assert (core.from_deg, core.to_deg) == pytest.approx((100.0, 159.0))
    over_the_seam = core_of(
        replace(sweep, angle_deg=np.mod(angle + 230.0, 360.0)),
        replace(wide, from_deg=-34.0, to_deg=34.0),
        Signs(),
    )
    assert over_the_seam is not None
    assert (over_the_seam.from_deg, over_the_seam.to_deg) == pytest.approx((-30.0, 29.0))


@pytest.mark.parametrize("eccentricity_mm", [0.063, 0.128])
@pytest.mark.parametrize("readings", [1000, 2000])
def test_a_gauge_without_noise_that_shows_one_step_at_a_crest_was_not_held(
    eccentricity_mm: float, readings: int
) -> None:
    # On its steep places the display steps up and down between two values, which is no scatter of readings.
    angle: F64 = np.linspace(0.0, 366.0, readings)
    offset = np.asarray(eccentricity_mm * np.cos(np.deg2rad(angle)), dtype=np.float64)
    assert judge_surface("rim", [swept(offset, angle, noise_mm=0.0)], EXAMPLE).outcome == "within"
