"""A plain dial that stands at the end of its travel for a third of the turn and more: few stops are left."""

from __future__ import annotations

import numpy as np
import pytest

from grading.evidence import F64
from tests.grading.swept import COARSE, judged, swept


def wave(every_deg: float, tir_mm: float) -> tuple[F64, F64]:
    angle = np.arange(0.0, 376.0, every_deg)
    return angle, np.asarray(tir_mm / 2 * np.cos(np.deg2rad(angle - 57.0)))


@pytest.mark.parametrize(("tir_mm", "stands_mm"), [(0.34, -0.03), (0.4, 0.0), (0.5, 0.07)])
@pytest.mark.parametrize("end", [1, -1])
@pytest.mark.parametrize("every_deg", [10.0, 15.0])
def test_a_dial_at_the_end_of_its_travel_for_half_a_turn_makes_no_within(
    every_deg: float, end: int, tir_mm: float, stands_mm: float
) -> None:
    angle, value = wave(every_deg, tir_mm)
    check = judged(swept(end * np.maximum(value, stands_mm), angle, COARSE))
    assert check.outcome == "invalid"
    assert f"the readings stand at {end * stands_mm + 0.0:.3f} mm from 1" in check.reason


@pytest.mark.parametrize("flat", [0.1, 0.2, 0.25])
def test_a_sound_rim_that_is_flat_on_one_side_stays_within(flat: float) -> None:
    """Two waves make a long flat side; nothing is cut off."""
    angle, value = wave(15.0, 0.22)
    t = np.deg2rad(angle - 57.0)
    assert judged(swept(value + 0.11 * flat * np.cos(2 * t), angle, COARSE)).outcome == "within"
