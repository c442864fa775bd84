"""Waves of a few readings each, or fewer than two, are known by their order where each angle is known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lombscargle

from config.runout import SweepRules
from grading.evidence import F64
from grading.runout.byorder import FINE, lines_of
from tests.grading.swept import eccentric, judged, swept, turn

ABOVE = SweepRules().misfit_from
STEP_MM, NOISE_MM = 0.001, 0.001


def uneven(readings: int, turns: float, seed: int) -> F64:
    """Angles of a crank that is barred now faster, now slower."""
    rng = np.random.default_rng(seed)
    even = np.linspace(0.0, 360.0 * turns + 6.0, readings)
    off = sum(rng.normal(0, 14 / m) * np.sin(np.deg2rad(m * even) + rng.uniform(0, 6)) for m in (1, 2, 3))
    angle = np.maximum.accumulate(even + off - (even + off)[0])
    return np.asarray(angle * (even[-1] / angle[-1]))


def toothed(angle_deg: F64, order: int, tir_mm: float, size_mm: float) -> F64:
    return eccentric(angle_deg, tir_mm) + size_mm * np.cos(np.deg2rad(order * angle_deg) + 0.4)


def test_noise_has_no_order() -> None:
    rng = np.random.default_rng(1)
    found = 0
    for number in range(300):
        angle = uneven(60 + number, 1.0, number)
        sweep = swept(np.zeros(angle.size), angle)
        found += lines_of([sweep], [rng.normal(0, 0.004, angle.size)], STEP_MM, NOISE_MM, ABOVE) is not None
    assert found == 0


@pytest.mark.parametrize(("order", "readings"), [(26, 60), (40, 110), (66, 90)])
def test_a_wave_is_found_with_its_order_and_height(order: int, readings: int) -> None:
    """Its order is where scipy's periodogram of uneven samples has its peak."""
    angle = uneven(readings, 1.0, 2)
    rest = 0.008 * np.cos(np.deg2rad(order * angle) + 0.4)
    rest = rest + np.random.default_rng(3).normal(0, NOISE_MM, readings)
    rest = rest - rest.mean()
    found = lines_of([swept(rest, angle)], [rest], STEP_MM, NOISE_MM, ABOVE)
    assert found is not None
    orders = np.arange(10, 97)
    power = lombscargle(np.deg2rad(angle), rest, orders.astype(np.float64))
    (same,) = np.flatnonzero(np.abs(np.fft.rfft(found.around_mm)) > FINE * 0.001)[:1]
    assert same == orders[np.argmax(power)] == order
    assert np.ptp(found.around_mm) == pytest.approx(0.016, rel=0.1)
    assert np.std(rest - found.at_mm[0]) < 0.0015


@pytest.mark.parametrize(("order", "readings", "turns"), [(30, 88, 2.0), (40, 110, 1.0), (50, 134, 1.0)])
def test_teeth_read_at_an_uneven_pace_do_not_hide_what_is_over(
    order: int, readings: int, turns: float
) -> None:
    """0.285 mm was `within` by 0.271."""
    angle = uneven(round(readings * (turns + 1 / 60)), turns, 5)
    assert np.ptp(toothed(np.arange(0, 360, 0.05), order, 0.277, 0.0075)) > 0.2835
    assert judged(swept(toothed(angle, order, 0.277, 0.0075), angle)).outcome == "unclear"


@pytest.mark.parametrize("first", [True, False])
def test_sweeps_that_cannot_show_teeth_do_not_speak_against_one_that_can(first: bool) -> None:
    """36 teeth, and two sweeps at 36 stops which meet each alike: 0.288 mm was `within` by 0.254."""
    angle, stops = turn(142), np.arange(0.0, 361.0, 10.0) + 2.5
    dense = swept(eccentric(angle, 0.25) + 0.022 * np.cos(np.deg2rad(36 * angle)), angle)
    few = swept(eccentric(stops, 0.25) + 0.022 * np.cos(np.deg2rad(36 * stops)), stops)
    sweeps = [dense, few, few] if first else [few, few, dense]
    assert judged(*sweeps).outcome == "unclear"
