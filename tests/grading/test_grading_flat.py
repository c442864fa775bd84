"""A plunger at the end of its travel over much of a turn: what is read is longer flat than a wave."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.runout import SurfaceRules
from grading.assess import judge
from grading.evidence import F64, Sweep
from grading.runout.flat import flat_share, flat_unsure, may_be_mm, weights
from tests.grading.adverse.study import grade
from tests.grading.samples import EXAMPLE
from tests.grading.swept import COARSE, eccentric, swept, turn

RULES = EXAMPLE.rim
LIMIT_MM = RULES.limit_mm


def cut(share: float, tir_mm: float = 0.3, low_deg: float = 100.0) -> Sweep:
    """An eccentric whose plunger meets its stop where this share of its travel is left, at the top."""
    angle = turn(600)
    value = tir_mm / 2 * np.cos(np.deg2rad(angle - low_deg - 180.0))
    return swept(np.minimum(value, (share - 0.5) * tir_mm), angle, COARSE, noise_mm=0.001)


def times(sweep: Sweep) -> float:
    return max(flat_share(sweep, end)[1] for end in (1.0, -1.0))


@given(low_deg=st.floats(0.0, 360.0), tir_mm=st.floats(0.06, 0.6))
def test_a_wave_shows_its_ends_as_long_as_one_does_wherever_it_begins(low_deg: float, tir_mm: float) -> None:
    assert times(cut(1.0, tir_mm, low_deg)) < 1.15


@given(low_deg=st.floats(0.0, 360.0), share=st.floats(0.3, 0.55))
def test_one_that_is_cut_off_stays_longer_at_either_end(low_deg: float, share: float) -> None:
    found = cut(share, 0.3, low_deg)
    assert times(found) > RULES.sweep.signs.flat_most
    said = flat_unsure(found, RULES)
    assert len(said) == 1
    assert f"{float(found.value_mm.max()):.3f} mm, as high or as low as any" in said[0]
    upside_down = replace(found, value_mm=-found.value_mm)
    assert flat_share(upside_down, -1.0) == pytest.approx(flat_share(found, 1.0))
    assert len(flat_unsure(upside_down, RULES)) == 1


@given(st.lists(st.floats(0.0, 720.0), min_size=2, max_size=50))
def test_the_shares_of_the_readings_are_the_turn(angles: list[float]) -> None:
    found: F64 = weights(np.array(angles))
    assert found.sum() == pytest.approx(1.0)
    assert (found >= 0.0).all()


def test_a_wave_that_is_cut_off_over_half_of_the_turn_is_twice_as_high() -> None:
    signs = RULES.sweep.signs.model_copy(update={"held_share": 0.0})
    assert may_be_mm(0.1, 0.5, signs) == pytest.approx(0.2)
    assert may_be_mm(0.1, 0.0, signs) == pytest.approx(0.1)


def test_what_can_hide_nothing_that_is_over_is_not_asked_about() -> None:
    small = cut(0.4, 0.1)
    assert times(small) > RULES.sweep.signs.flat_most
    assert flat_unsure(small, RULES) == []


@pytest.mark.parametrize("oval", [0.2, 0.25, 0.3])
def test_an_oval_rim_is_flat_on_one_side_by_itself(oval: float) -> None:
    """By an encoder: from mark to mark the pace may make two waves of what was cut off."""
    found = cut(1.0)
    t = np.deg2rad(found.angle_deg - 100.0)
    value = 0.15 * (np.cos(t - np.pi) + oval * np.cos(2 * t))
    rim = swept(value, found.angle_deg, COARSE, noise_mm=0.001)
    assert oval < 0.25 or times(rim) > RULES.sweep.signs.flat_most
    assert flat_unsure(rim, RULES) == []
    assert len(flat_unsure(replace(rim, angles_run_on=True), RULES)) == (oval >= 0.25)


def test_a_gauge_that_holds_the_lowest_that_it_has_seen_is_not_within() -> None:
    """A digital indicator's mode; the turn began just before the lowest place: two steps, then nothing."""
    angle = turn(600)
    value = np.minimum.accumulate(0.15 * np.cos(np.deg2rad(angle - 210.0)))
    held = swept(value, angle, COARSE, noise_mm=0.0)
    assert round(float(np.ptp(held.value_mm)), 3) == 0.02
    assert len(flat_unsure(held, RULES)) == 1
    assert judge("rim", [held], EXAMPLE).outcome != "within"
    signs = RULES.sweep.signs.model_copy(update={"flat_form_steps": 1.0})
    forms = RULES.model_copy(update={"sweep": RULES.sweep.model_copy(update={"signs": signs})})
    assert flat_unsure(held, forms) == []


def test_how_long_is_the_methods() -> None:
    signs = RULES.sweep.signs.model_copy(update={"flat_most": 1e3})
    patient: SurfaceRules = RULES.model_copy(
        update={"sweep": RULES.sweep.model_copy(update={"signs": signs})}
    )
    assert flat_unsure(cut(0.4), RULES)
    assert not flat_unsure(cut(0.4), patient)


def test_a_stop_of_a_plain_dial_reaches_from_the_first_to_the_last_alone() -> None:
    """Of twelve one that is highest may be the crest."""
    angle = np.arange(0.0, 361.0, 30.0)
    assert times(swept(eccentric(angle, 0.3), angle)) < 1.0


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "number"),
    [
        ("cut deep", 23),
        ("cut deep", 35),
        ("cut deep", 47),
        ("strokes, cut deep", 11),
        ("strokes, cut deep", 23),
        ("strokes, cut deep", 44),
    ],
)
def test_a_damper_of_which_most_was_cut_off_is_never_within(name: str, number: int) -> None:
    assert grade(7, name, number).outcome == "unclear"


@pytest.mark.slow
def test_what_is_seen_of_it_is_said_with_what_to_do() -> None:
    """One wave alone, so that the rest of the turn gives it away too."""
    found = judge("rim", [cut(0.4)], EXAMPLE)
    assert found.outcome == "invalid"
    assert "set the indicator to the middle of its travel" in found.reason
