"""Waves of which a turn has read but a few places each are of the surface, not of its readings' scatter."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import periodogram

from config.runout import SweepRules
from grading.runout.swings import FINER, swing_of
from tests.grading.adverse.study import grade
from tests.grading.swept import eccentric, judged, swept, turn

ABOVE = SweepRules().misfit_from
STEP_MM, NOISE_MM = 0.001, 0.004


def wave(readings: int, order: float, size_mm: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return size_mm * np.cos(2 * np.pi * order * np.arange(readings) / readings + 0.3)


def test_noise_is_none() -> None:
    rng = np.random.default_rng(1)
    found = [
        swing_of(rng.normal(0, NOISE_MM, n), 1.0, STEP_MM, NOISE_MM, ABOVE) for n in [90, 140, 300] * 100
    ]
    assert sum(each is not None for each in found) <= 3


@pytest.mark.parametrize("order", [28.0, 35.3, 44.0])
def test_a_wave_of_three_to_five_readings_is_found_with_its_height(order: float) -> None:
    """Its power and frequency are those of scipy's periodogram."""
    rng = np.random.default_rng(2)
    rest = wave(140, order, 0.008) + rng.normal(0, 0.001, 140)
    found = swing_of(rest, 1.0, STEP_MM, 0.006, ABOVE)
    assert found is not None
    assert found.finer_mm.size == FINER * 140
    assert found.finer_mm[::FINER] == pytest.approx(found.at_mm, abs=1e-12)
    frequency, power = periodogram(found.at_mm)
    assert frequency[np.argmax(power)] == pytest.approx(order / 140, abs=0.5 / 140)
    assert np.std(rest - found.at_mm) < 0.0025
    assert np.ptp(found.finer_mm) == pytest.approx(0.016, rel=0.3)


def test_of_dense_readings_no_surface_swings_so_fast() -> None:
    """Five readings each of 3 000 a turn would be 600 waves around."""
    rest = wave(3000, 600.0, 0.008)
    assert swing_of(rest, 1.0, STEP_MM, 0.006, ABOVE) is None


def test_what_the_display_rounds_off_is_no_wave() -> None:
    """A slope of a quarter of a step a reading is rounded alike every four."""
    ramp = 0.0025 * np.arange(140)
    assert swing_of(np.round(ramp, 2) - ramp, 1.0, 0.01, 0.001, ABOVE) is None


def test_a_toothed_rim_read_four_times_a_tooth_is_held_higher() -> None:
    angle = turn(142)
    value = eccentric(angle, 0.262) + 0.0085 * np.cos(np.deg2rad(34 * angle))
    check = judged(swept(value, angle))
    assert check.true_tir_mm is not None
    assert check.u_expanded_mm is not None
    assert check.true_tir_mm + check.u_expanded_mm > 0.279
    assert check.outcome == "unclear"
    assert any("in waves of a few readings each" in warning for warning in check.warnings)


@pytest.mark.slow
@pytest.mark.parametrize("number", [42, 88, 136])
def test_waves_of_four_readings_do_not_hide_what_is_over(number: int) -> None:
    """0.282 and 0.285 mm were `within` by 0.273, 0.260 and 0.266."""
    found = grade(20261201, "orders 21-60", number)
    assert found.outcome == "unclear", found.reason
