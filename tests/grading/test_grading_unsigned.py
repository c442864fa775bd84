"""Readings whose minus signs were left off: a dial that counts both ways, typed as it is printed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from grading.evidence import F64, Sweep
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
