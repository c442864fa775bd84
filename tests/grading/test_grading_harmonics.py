"""Harmonics against numpy's own transform, the defining cosines and sines, and published closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grading.evidence import F64
from grading.surface.harmonics import columns, to_harmonics


def even(count: int) -> F64:
    """So many angles evenly around the turn."""
    return np.asarray(np.arange(count) * (360.0 / count), dtype=np.float64)


def fitted(angle_deg: F64, value_mm: F64, orders: int) -> F64:
    """Mean and coefficients of a plain fit, shape (1 + 2 * orders,)."""
    x = np.column_stack([np.ones(angle_deg.size), columns(angle_deg, orders)])
    return np.asarray(np.linalg.lstsq(x, value_mm, rcond=None)[0])


def harmonics_72(angle_deg: F64) -> F64:
    """Check value harmonics-72 [constructed; computed]."""
    t = np.deg2rad(angle_deg)
    value = 0.10 * np.cos(t - np.deg2rad(40)) + 0.03 * np.cos(2 * (t - np.deg2rad(25)))
    return np.asarray(value + 0.006 * np.cos(9 * t))


def test_constructed_harmonics_come_back() -> None:
    angle = even(72)
    solution = fitted(angle, harmonics_72(angle), 12)
    found = to_harmonics(solution[1:])
    expected = {1: (0.1, 40.0), 2: (0.03, 25.0), 9: (0.006, 0.0)}
    for harmonic in found:
        amplitude, phase = expected.get(harmonic.order, (0.0, None))
        assert harmonic.amplitude_mm == pytest.approx(amplitude, abs=1e-14)
        if phase is not None:
            period = 360.0 / harmonic.order
            off = (harmonic.phase_deg - phase + period / 2) % period - period / 2
            assert off == pytest.approx(0.0, abs=1e-10)
    assert solution[0] + columns(angle, 12) @ solution[1:] == pytest.approx(harmonics_72(angle), abs=1e-14)
    # eccentricity_vector and the peak-to-valley of the same check value
    assert solution[1:3] == pytest.approx([0.0766044443118978, 0.06427876096865393], abs=1e-14)
    dense = columns(even(3600), 12) @ solution[1:]
    assert np.ptp(dense) == pytest.approx(0.2255539411510709, abs=1e-12)
    assert np.ptp(columns(angle, 12) @ solution[1:]) == pytest.approx(0.22491793773153898, abs=1e-12)
    assert np.ptp(harmonics_72(angle) - columns(angle, 1) @ solution[1:3]) == pytest.approx(
        0.07108846518073247, abs=1e-12
    )


def test_even_readings_give_the_discrete_fourier_transform() -> None:
    values = np.random.default_rng(3).normal(0, 0.05, 240)
    solution = fitted(even(240), values, 20)
    transform = np.fft.rfft(values) / 240
    assert solution[0] == pytest.approx(transform[0].real, abs=1e-14)
    assert solution[1::2] == pytest.approx(2 * transform.real[1:21], abs=1e-14)
    assert solution[2::2] == pytest.approx(-2 * transform.imag[1:21], abs=1e-14)
    for harmonic in to_harmonics(solution[1:]):
        assert harmonic.amplitude_mm == pytest.approx(2 * abs(transform[harmonic.order]), abs=1e-14)
        expected = -np.rad2deg(np.angle(transform[harmonic.order])) / harmonic.order % (360 / harmonic.order)
        assert harmonic.phase_deg == pytest.approx(expected, abs=1e-9)


def test_columns_are_the_cosines_and_sines_of_each_order() -> None:
    angle = np.random.default_rng(4).uniform(-400, 800, 150)
    turn = np.deg2rad(angle)[:, None] * np.arange(1, 31)
    expected = np.dstack([np.cos(turn), np.sin(turn)]).reshape(150, -1)
    assert columns(angle, 30) == pytest.approx(expected, abs=1e-12)


def test_an_offset_circle_is_its_eccentricity_and_a_little_oval() -> None:
    # Check value eccentric-circle (plane geometry): R = 150 mm, e = 0.14 mm, TIR = 2 e.
    t = np.deg2rad(even(720))
    radius = 0.14 * np.cos(t) + np.sqrt(150.0**2 - (0.14 * np.sin(t)) ** 2)
    found = to_harmonics(fitted(even(720), radius, 4)[1:])
    assert found[0].amplitude_mm == pytest.approx(0.14, abs=1e-12)
    assert found[1].amplitude_mm == pytest.approx(3.266666666666667e-05, abs=1e-11)
    assert np.ptp(radius) == pytest.approx(0.28, abs=1e-9)


@given(
    order=st.integers(1, 20),
    amplitude=st.floats(1e-4, 1.0),
    phase=st.floats(0.0, 1.0, exclude_max=True),
    turned=st.floats(-720.0, 720.0),
)
def test_turning_the_origin_turns_the_phase(
    order: int, amplitude: float, phase: float, turned: float
) -> None:
    angle = even(100)
    crest = phase * 360.0 / order
    values = amplitude * np.cos(order * np.deg2rad(angle - crest))
    plain = to_harmonics(fitted(angle, values, 20)[1:])[order - 1]
    moved = to_harmonics(fitted(angle + turned, values, 20)[1:])[order - 1]
    period = 360.0 / order
    assert plain.amplitude_mm == pytest.approx(amplitude, rel=1e-9)
    assert moved.amplitude_mm == pytest.approx(amplitude, rel=1e-9)
    for found, expected in ((plain, crest), (moved, crest + turned)):
        assert 0.0 <= found.phase_deg < period
        assert (found.phase_deg - expected + period / 2) % period == pytest.approx(period / 2, abs=1e-6)
