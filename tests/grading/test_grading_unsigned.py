"""Readings whose minus signs were left off: a dial that counts both ways, typed as it is printed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from config.runout import SweepRules
from config.signs import Signs
from grading.evidence import F64, Sweep
from grading.runout.unsigned import folded, surer_than
from tests.grading.adverse.day import Day
from tests.grading.adverse.stops import typed
from tests.grading.samples import EXAMPLE
from tests.grading.swept import COARSE, eccentric, judged, swept

ANGLE: F64 = np.arange(0.0, 376.0, 15.0)


def dial(value_mm: F64, angle_deg: F64 = ANGLE) -> Sweep:
    return swept(value_mm, angle_deg, COARSE)


def set_to_nought(tir_mm: float, at: int, angle_deg: F64 = ANGLE) -> F64:
    """A damper as a dial reads it that was set to nought at one of the stops."""
    value = eccentric(angle_deg, tir_mm)
    return np.asarray(value - value[at])


@pytest.mark.parametrize("every_deg", [5.0, 15.0, 20.0])
@pytest.mark.parametrize("high_deg", [60.0, 240.0])
def test_a_damper_over_whose_signs_were_left_off_is_no_within(every_deg: float, high_deg: float) -> None:
    """0.40 mm, set to nought half-way: without its signs it reads 0.20."""
    angle = np.arange(0.0, 376.0, every_deg)
    value = 0.2 * np.cos(np.deg2rad(angle - high_deg)) + 0.01 * np.cos(np.deg2rad(2 * angle))
    check = judged(dial(np.abs(value), angle))
    assert check.outcome == "invalid"
    assert "minus signs were left off: with them it may have moved by 0." in check.reason
    assert judged(dial(value, angle)).outcome == "over"


def test_a_gauge_whose_frames_have_no_sign_is_seen_as_well() -> None:
    angle = np.linspace(0.0, 366.0, 600)
    signed = swept(set_to_nought(0.4, 0, angle), angle)
    assert judged(replace(signed, value_mm=np.abs(signed.value_mm))).outcome == "invalid"


@pytest.mark.parametrize("waves", [1, 2, 3])
def test_a_sound_damper_set_to_nought_at_its_lowest_stays_within(waves: int) -> None:
    """An oval comes to nought twice, and is round there."""
    surface = 0.1 - 0.1 * np.cos(waves * np.deg2rad(ANGLE - 20.0))
    assert judged(dial(np.abs(surface))).outcome == "within"


def test_a_sound_damper_without_its_signs_is_no_worse_than_it_is() -> None:
    assert judged(dial(np.abs(set_to_nought(0.16, 6)))).outcome == "within"


@pytest.mark.parametrize("every_deg", [5.0, 15.0])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_dial_turned_past_its_end_number_is_no_within(every_deg: float, sign: float) -> None:
    """0.34 mm on a dial that counts from nought to 0.25 mm and back: it shows 0.20."""
    angle = np.arange(0.0, 376.0, every_deg)
    value = sign * (0.22 + 0.17 * np.cos(np.deg2rad(angle - 50.0)))
    shown = np.where(np.abs(value) > 0.25, np.sign(value) * 0.5 - value, value)
    check = judged(dial(shown, angle))
    assert check.outcome == "invalid"
    assert f"the readings come to {sign * 0.25:.2f} mm and turn back there" in check.reason


def test_where_it_may_have_been_turned_so_far_it_is_not_within() -> None:
    """Twelve stops tell less; the method says how much is enough."""
    angle = np.arange(0.0, 360.0, 30.0)
    value = 0.17 * np.cos(np.deg2rad(angle - 50.0)) + 0.01 * np.cos(np.deg2rad(2 * angle))
    shown = dial(np.where(value > 0.06, 0.12 - value, value), angle)
    assert judged(shown).outcome == "unclear"
    signs = Signs(unsigned_maybe=1e9)
    trusting = EXAMPLE.rim.model_copy(update={"sweep": SweepRules(signs=signs)})
    assert not surer_than(folded(shown, trusting), signs.unsigned_maybe)
    assert not surer_than(folded(shown, EXAMPLE.rim), Signs().unsigned_odds)


@pytest.mark.slow
def test_sound_dampers_are_hardly_ever_asked_about() -> None:
    """At most one in 200 at 12 to 72 stops of a plain dial, dents and up to 12 waves among them."""
    asked = 0
    for number in range(400):
        day = Day(311, "sound", number)
        day.truth_mm = (0.05, 0.1, 0.15, 0.2, 0.25, 0.27)[number % 6]
        one = typed(day, day.form(feature=number % 2 == 0), (12, 18, 24, 36, 72)[number % 5])
        one = replace(one, gauge=COARSE)
        low = replace(one, value_mm=one.value_mm - one.value_mm.min())
        asked += bool(surer_than(folded(low if number % 3 else one, EXAMPLE.rim), Signs().unsigned_maybe))
    assert asked <= 4


def test_what_was_typed_first_of_a_dial_is_told_where_it_may_have_been_over() -> None:
    """The same as of a thickness: who puts an over right until it is none leaves a trace."""
    plain = dial(eccentric(ANGLE, 0.1))
    told = judged(replace(plain, put_right=((45.0, 0.45, 0.05), (60.0, 0.04, 0.05))))
    assert told.outcome == judged(plain).outcome
    assert [said for said in told.warnings if "at first" in said] == [
        "at 45 degrees: typed 0.450 mm at first, and put right to 0.050 mm"
    ]
