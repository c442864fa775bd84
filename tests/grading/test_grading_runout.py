"""The estimate of a surface's true TIR: closed forms, laws, what helps and what must not hurt."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contract.gauge import GaugeFacts
from contract.terms import Surface
from grading.evidence import F64, Sweep
from grading.runout.runout import RunoutEstimate
from grading.surface.features import Dictionary, bumps
from tests.grading.estimate import estimate_runout

PERFECT = GaugeFacts("perfect", 0.0, 0.0)
COARSE = GaugeFacts("dial", 0.01, 0.0)
FINE = GaugeFacts("digital", 0.001, 0.004)


def surface(angle_deg: F64) -> F64:
    """Three harmonics, TIR 0.2255539… mm (check value harmonics-72, constructed)."""
    t = np.deg2rad(angle_deg)
    value = 0.10 * np.cos(t - np.deg2rad(40)) + 0.03 * np.cos(2 * (t - np.deg2rad(25)))
    return np.asarray(value + 0.006 * np.cos(9 * t))


TRUE_TIR_MM = 0.2255539411510709


def swept(
    value_mm: F64,
    angle_deg: F64,
    gauge: GaugeFacts,
    *,
    noise_mm: float = 0.0,
    seed: int = 1,
    what: Surface = "rim",
) -> Sweep:
    """Readings of these true values, evenly in time, rounded to the display's steps."""
    n = angle_deg.size
    value: F64 = np.asarray(value_mm + np.random.default_rng(seed).normal(0, noise_mm, n))
    if gauge.resolution_mm > 0:
        value = np.round(value / gauge.resolution_mm) * gauge.resolution_mm
    return Sweep(what, angle_deg, value, np.full(n, 0.05), np.linspace(0.0, 0.05 * n, n), gauge)


def turn(readings: int) -> F64:
    """A turn and five degrees."""
    return np.linspace(0.0, 365.0, readings)


def agrees(found: RunoutEstimate, true_mm: float) -> bool:
    """Whether the interval holds the truth."""
    return abs(found.true_tir_mm - true_mm) <= found.u_expanded_mm


def test_a_perfect_gauge_finds_the_constructed_surface() -> None:
    angle = np.linspace(0.0, 365.0, 400)
    found = estimate_runout([swept(surface(angle), angle, PERFECT)], seed=1)
    # The factor: the mean cosine error of a plunger tilted by up to 3 degrees, which is taken off.
    assert found.true_tir_mm == pytest.approx(TRUE_TIR_MM * (1 - np.deg2rad(3.0) ** 2 / 6), abs=2e-5)
    assert found.u_expanded_mm < 0.001
    order = {h.order: h for h in found.harmonics}
    assert order[1].amplitude_mm == pytest.approx(0.1, abs=2e-5)
    assert order[1].phase_deg == pytest.approx(40.0, abs=0.05)
    assert order[2].amplitude_mm == pytest.approx(0.03, abs=2e-5)
    assert order[2].phase_deg == pytest.approx(25.0, abs=0.05)
    assert order[9].amplitude_mm == pytest.approx(0.006, abs=2e-5)
    assert (found.eccentricity_mm, found.high_spot_deg) == (order[1].amplitude_mm, order[1].phase_deg)
    assert found.residual_rms_mm < 1e-5
    assert found.features == ()


def test_an_offset_circle_has_twice_its_eccentricity() -> None:
    # Check value eccentric-circle: R = 150 mm, e = 0.14 mm, TIR = 2 e = 0.28 mm (plane geometry).
    angle = turn(600)
    t = np.deg2rad(angle)
    radius = 0.14 * np.cos(t) + np.sqrt(150.0**2 - (0.14 * np.sin(t)) ** 2) - 150.0
    found = estimate_runout([swept(radius, angle, FINE, noise_mm=0.001)], seed=1)
    assert agrees(found, 0.28)
    assert found.true_tir_mm == pytest.approx(0.28, abs=0.001)
    assert found.eccentricity_mm == pytest.approx(0.14, abs=0.0005)
    assert found.tilt_mrad is None


def test_a_tilted_face_has_twice_radius_times_tangent() -> None:
    # Check value face-wobble: r = 150 mm, 0.05 degrees, TIR = 2 r tan a = 0.2617994542563814 mm.
    angle = turn(600)
    slope = np.tan(np.deg2rad(0.05))
    sweep = swept(150.0 * slope * np.cos(np.deg2rad(angle)), angle, FINE, noise_mm=0.001, what="face")
    found = estimate_runout([replace(sweep, radius_mm=150.0)], seed=1)
    assert agrees(found, 0.2617994542563814)
    assert found.tilt_mrad == pytest.approx(1000 * np.deg2rad(0.05), rel=2e-3)
    assert found.end_float_steps == 0
    assert estimate_runout([sweep], seed=1).tilt_mrad is None


def test_the_same_sweep_and_seed_give_the_same_bits() -> None:
    angle = turn(300)
    sweep = swept(surface(angle), angle, COARSE, noise_mm=0.001)
    first, again = estimate_runout([sweep], seed=7), estimate_runout([sweep], seed=7)
    assert first.distribution.centres_mm.tobytes() == again.distribution.centres_mm.tobytes()
    assert replace(first, distribution=again.distribution) == again
    other = estimate_runout([sweep], seed=8)
    assert other.true_tir_mm == pytest.approx(first.true_tir_mm, abs=0.3 * first.u_random_mm)


@pytest.mark.slow
@settings(max_examples=12)
@given(turned=st.floats(-360.0, 360.0), lifted=st.integers(-500, 500), seed=st.integers(0, 1000))
def test_neither_the_origin_of_angle_nor_the_zero_matters(turned: float, lifted: int, seed: int) -> None:
    angle = turn(120)
    plain = swept(surface(angle), angle, FINE, noise_mm=0.001, seed=seed)
    moved = replace(plain, angle_deg=angle + turned, value_mm=plain.value_mm + lifted * 0.01)
    a, b = estimate_runout([plain], seed=1), estimate_runout([moved], seed=1)
    assert b.true_tir_mm == pytest.approx(a.true_tir_mm, abs=0.35 * a.u_random_mm)
    assert b.u_expanded_mm == pytest.approx(a.u_expanded_mm, rel=0.1)
    off = (b.high_spot_deg - a.high_spot_deg - turned + 180.0) % 360.0 - 180.0
    assert off == pytest.approx(0.0, abs=0.05)
    assert b.eccentricity_mm == pytest.approx(a.eccentricity_mm, rel=1e-3)


def test_noise_pushes_the_bare_range_up_and_not_the_estimate() -> None:
    angle = turn(1500)
    gauge = replace(FINE, mpe_mm=0.0)
    bare, best = [], []
    for seed in range(6):
        found = estimate_runout([swept(surface(angle), angle, gauge, noise_mm=0.004, seed=seed)], seed=1)
        bare.append(found.tir_mm - TRUE_TIR_MM)
        best.append(found.true_tir_mm - TRUE_TIR_MM)
    assert min(bare) > 0.010
    assert abs(np.mean(best)) < 0.001
    assert max(map(abs, best)) < 0.002


def test_a_coarse_display_is_seen_through() -> None:
    angle = turn(1000)
    shift = np.random.default_rng(1).uniform(0, 0.01, 6)
    found = [
        estimate_runout([swept(surface(angle) + s, angle, COARSE, noise_mm=0.0007, seed=i)], seed=1)
        for i, s in enumerate(shift)
    ]
    errors = np.array([f.true_tir_mm - TRUE_TIR_MM for f in found])
    assert np.abs(errors).max() < 0.002
    assert all(agrees(f, TRUE_TIR_MM) for f in found)
    assert np.abs([f.tir_mm - TRUE_TIR_MM for f in found]).max() > 2 * np.abs(errors).max()


def test_a_dent_is_found_and_counts() -> None:
    angle = turn(720)
    dent = -0.04 * bumps(Dictionary(np.array([218.0]), np.array([9.0]), np.zeros(1)), angle)[:, 0]
    dented = 0.1 * np.cos(np.deg2rad(angle - 38.0)) + dent
    found = estimate_runout([swept(dented, angle, FINE, noise_mm=0.001)], seed=1)
    (feature,) = found.features
    assert feature.angle_deg == pytest.approx(218.0, abs=0.5)
    assert feature.width_deg == pytest.approx(9.0, rel=0.25)
    assert feature.height_mm == pytest.approx(-0.04, rel=0.1)
    assert agrees(found, 0.24)
    assert found.true_tir_mm == pytest.approx(0.24, abs=0.002)


def test_going_back_and_reading_again_helps() -> None:
    angle = turn(150)
    again = np.concatenate([angle, np.linspace(365.0, 250.0, 50), np.linspace(250.0, 365.0, 50)])
    plain = estimate_runout([swept(surface(angle), angle, FINE, noise_mm=0.003)], seed=1)
    more = estimate_runout([swept(surface(again), again, FINE, noise_mm=0.003)], seed=1)
    assert more.u_random_mm < 1.05 * plain.u_random_mm
    assert agrees(more, TRUE_TIR_MM)


def test_drift_that_the_overlap_shows_is_taken_out() -> None:
    angle = turn(700)
    drifted = surface(angle) + 0.012 * np.linspace(0.0, 1.0, angle.size)
    found = estimate_runout([swept(drifted, angle, replace(FINE, mpe_mm=0.0), noise_mm=0.001)], seed=1)
    assert found.closure_mm == pytest.approx(0.012, abs=0.001)
    assert found.true_tir_mm == pytest.approx(TRUE_TIR_MM, abs=0.0015)


def test_a_gap_widens_the_interval_and_the_budget_says_so() -> None:
    angle = turn(365)
    gap = angle[(angle < 20.0) | (angle > 60.0)]
    whole = estimate_runout([swept(surface(angle), angle, FINE, noise_mm=0.001)], seed=1)
    holed = estimate_runout([swept(surface(gap), gap, FINE, noise_mm=0.001)], seed=1)
    assert holed.largest_gap_deg > 40.0
    assert holed.u_random_mm > 3 * whole.u_random_mm
    assert agrees(holed, TRUE_TIR_MM)
    hidden = {line.source: line.u_mm for line in holed.budget}["what gaps between readings may hide"]
    assert hidden > 0.001


def test_repeats_shrink_the_random_part_alone() -> None:
    angle = turn(200)
    sweeps = [swept(surface(angle), angle, FINE, noise_mm=0.004, seed=i) for i in range(4)]
    one, four = estimate_runout(sweeps[:1], seed=1), estimate_runout(sweeps, seed=1)
    assert four.sweeps == 4
    assert four.u_random_mm == pytest.approx(one.u_random_mm / 2, rel=0.35)
    assert four.u_systematic_mm == pytest.approx(one.u_systematic_mm, rel=0.01)
    assert four.u_systematic_mm > 0.004 / 3**0.5
    assert four.tir_mm == float(np.ptp(sweeps[-1].value_mm))
    assert agrees(four, TRUE_TIR_MM)
    assert four.warnings == ()


@pytest.mark.slow
def test_sparse_sweeps_of_one_surface_are_pooled_and_never_the_worse_for_it() -> None:
    """36 readings each, at other places each time: what one may have missed another has seen."""
    sweeps = []
    for i in range(5):
        angle = turn(36) + 2.0 * i
        sweeps.append(swept(surface(angle), angle, FINE, noise_mm=0.002, seed=i))
    u_mm = [estimate_runout(sweeps[:k], seed=1).u_random_mm for k in (1, 2, 3, 5)]
    assert u_mm == sorted(u_mm, reverse=True)
    assert u_mm[-1] < 0.6 * u_mm[0]


def test_repeats_that_disagree_are_said_and_widened() -> None:
    angle = turn(300)
    sweeps = [swept(k * surface(angle), angle, FINE, noise_mm=0.001, seed=1) for k in (1.0, 1.1)]
    found = estimate_runout(sweeps, seed=1)
    assert any("differ by more" in warning for warning in found.warnings)
    assert found.u_random_mm > 2 * estimate_runout(sweeps[:1], seed=1).u_random_mm


def test_a_poor_repeatability_at_the_bay_enters_the_budget() -> None:
    angle = turn(300)
    sweep = swept(surface(angle), angle, FINE, noise_mm=0.001)
    poor = replace(sweep, gauge=replace(FINE, repeatability_mm=0.005))
    plain, lifted = estimate_runout([sweep], seed=1), estimate_runout([poor], seed=1)
    assert lifted.u_random_mm > max(2 * plain.u_random_mm, 0.006)
    assert any("between lifts" in line.source for line in lifted.budget)
    assert not any("between lifts" in line.source for line in plain.budget)


def test_probability_over_a_limit_falls_with_the_limit() -> None:
    angle = turn(300)
    found = estimate_runout([swept(surface(angle), angle, FINE, noise_mm=0.002)], seed=1)
    p = [found.p_over(limit) for limit in np.linspace(0.2, 0.25, 51)]
    assert p == sorted(p, reverse=True)
    assert p[0] > 0.9999
    assert p[-1] < 0.0001
    assert found.p_over(found.true_tir_mm) == pytest.approx(0.5, abs=0.001)


def test_the_budget_adds_up() -> None:
    angle = turn(400)
    found = estimate_runout([swept(surface(angle), angle, FINE, noise_mm=0.002)], seed=1)
    random = [line for line in found.budget if not line.source.startswith(("gauge span", "plunger", "give"))]
    common = [line for line in found.budget if line not in random]
    assert np.hypot.reduce([line.u_mm for line in random]) == pytest.approx(found.u_random_mm, rel=0.15)
    assert np.hypot.reduce([line.u_mm for line in common]) == pytest.approx(found.u_systematic_mm, rel=1e-6)
    assert all(line.u_mm >= 0 for line in found.budget)


@pytest.mark.parametrize("readings", [8, 9, 12, 24])
def test_a_few_typed_readings_are_wide_and_hold_the_truth(readings: int) -> None:
    angle = np.linspace(0.0, 360.0, readings, endpoint=False)
    sweep = swept(surface(angle), angle, COARSE)
    sweep = replace(sweep, time_s=np.zeros(readings), angle_u_deg=np.full(readings, 2.0))
    found = estimate_runout([sweep], seed=1)
    assert agrees(found, TRUE_TIR_MM)
    assert found.closure_mm is None
    assert found.u_expanded_mm > 0.004


def test_a_surface_without_any_run_out() -> None:
    angle = turn(200)
    found = estimate_runout([swept(np.full(200, 0.0031), angle, COARSE)], seed=1)
    assert found.tir_mm == 0.0
    assert 0.0 <= found.true_tir_mm < 0.01
    assert agrees(found, 0.0)


def test_poorly_known_angles_are_said_beside_the_high_spot() -> None:
    angle = turn(400)
    good = swept(surface(angle), angle, FINE)
    poor = replace(good, angle_u_deg=np.full(angle.size, 20.0))
    said = estimate_runout([poor], seed=1).warnings
    assert any("known to about 20 degrees" in warning for warning in said)
    assert not any("degrees" in warning for warning in estimate_runout([good], seed=1).warnings)
