from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulators.damper import Damper, Local, Mounted, Order, notches

ANGLES = st.floats(min_value=-720, max_value=1080, allow_nan=False)


def test_an_offset_circle_runs_out_by_twice_its_offset() -> None:
    # Plane geometry; check value eccentric-circle: R = 150, e = 0.14, TIR = 0.28.
    damper = Damper(rim_radius_mm=150.0, eccentricity_mm=0.14, eccentricity_deg=41.0)
    assert damper.rim_tir_mm() == pytest.approx(0.28, abs=1e-9)
    assert damper.rim_mm(41.0) == pytest.approx(0.14, abs=1e-12)
    assert damper.rim_mm(221.0) == pytest.approx(-0.14, abs=1e-12)


def test_a_tilted_plane_wobbles_by_twice_the_radius_times_the_tangent() -> None:
    # Check value face-wobble: r = 150, 0.05 degrees, 0.2617994542563814 mm.
    damper = Damper(face_radius_mm=150.0, tilt_mrad=math.radians(0.05) * 1000.0, tilt_deg=100.0)
    assert damper.face_tir_mm() == pytest.approx(0.2617994542563814, rel=1e-12)
    assert damper.face_mm(100.0) == max(damper.face_mm(float(angle)) for angle in range(360))


def test_ovality_has_two_crests() -> None:
    damper = Damper(ovality_mm=0.02, ovality_deg=30.0)
    assert damper.rim_mm(30.0) == pytest.approx(0.02)
    assert damper.rim_mm(210.0) == pytest.approx(0.02)
    assert damper.rim_mm(120.0) == pytest.approx(-0.02)
    assert damper.rim_tir_mm() == pytest.approx(0.04, abs=1e-9)


@pytest.mark.parametrize("height_mm", [-0.05, 0.05])
def test_a_local_feature_is_as_wide_and_high_as_stated(height_mm: float) -> None:
    local = Local(at_deg=2.0, width_deg=10.0, height_mm=height_mm)
    assert local.value_mm(2.0) == pytest.approx(height_mm)
    assert local.value_mm(359.5) == pytest.approx(height_mm / 2.0)
    assert local.value_mm(357.0) == 0.0
    assert local.value_mm(8.0) == 0.0
    assert Damper(rim_locals=(local,)).rim_tir_mm() == pytest.approx(0.05)
    assert Damper(face_locals=(local,)).face_tir_mm() == pytest.approx(0.05)


def test_a_toothed_rim_runs_out_by_offset_and_teeth() -> None:
    # 2 (e + a): the crest of a tooth meets the offset's, and of an odd order a valley the other's.
    damper = Damper(eccentricity_mm=0.1, rim_orders=(Order(21, 0.03),))
    assert damper.rim_tir_mm() == pytest.approx(0.26, abs=1e-4)
    assert all(Order(21, 0.03, 5.0).value_mm(5.0 + 360.0 * n / 21) == pytest.approx(0.03) for n in range(21))


def test_a_run_out_is_what_a_look_at_every_hundredth_of_a_degree_finds() -> None:
    damper = Damper(
        eccentricity_mm=0.115, eccentricity_deg=41.07, rim_orders=(Order(60, 0.01), Order(7, 0.02, 3.0)),
        rim_locals=notches(24, width_deg=1.3, depth_mm=0.06, first_deg=3.003),
    )  # fmt: skip
    found = [damper.rim_mm(point / 100.0) for point in range(36_000)]
    assert damper.rim_tir_mm() == max(found) - min(found)


def test_notches_are_even_deep_and_as_many_as_stated() -> None:
    damper = Damper(rim_locals=notches(24, width_deg=5.0, depth_mm=0.06, first_deg=3.0))
    assert all(damper.rim_mm(3.0 + 15.0 * n) == pytest.approx(-0.06) for n in range(24))
    assert all(damper.rim_mm(10.5 + 15.0 * n) == 0.0 for n in range(24))


def test_end_float_moves_the_face_and_not_the_rim() -> None:
    damper = Damper(end_float_mm=0.2, tilt_mrad=0.5)
    assert damper.face_mm(10.0, 1.0) - damper.face_mm(10.0) == pytest.approx(0.2)
    assert damper.face_mm(10.0, 0.25) - damper.face_mm(10.0) == pytest.approx(0.05)


def test_a_damper_turned_forward_on_its_hub_comes_by_earlier_and_its_mounting_stays() -> None:
    dented = Damper(rim_locals=(Local(90.0, 10.0, -0.05),), tilt_mrad=0.5, tilt_deg=90.0)
    turned = Mounted(dented, eccentricity_mm=0.03, eccentricity_deg=200.0, turned_deg=60.0)
    assert turned.rim_mm(30.0) == pytest.approx(-0.05 + 0.03 * math.cos(math.radians(170.0)))
    assert turned.rim_mm(200.0) == pytest.approx(0.03)
    assert turned.face_mm(30.0) == pytest.approx(dented.face_mm(90.0))


def test_mounting_and_damper_may_undo_each_other() -> None:
    opposite = Mounted(Damper(tilt_mrad=0.5), tilt_mrad=0.5, tilt_deg=180.0)
    assert all(opposite.face_mm(float(angle)) == pytest.approx(0.0, abs=1e-12) for angle in range(0, 360, 30))


@given(angle=ANGLES, turns=st.integers(min_value=-2, max_value=2))
def test_every_turn_is_alike(angle: float, turns: int) -> None:
    damper = Damper(
        eccentricity_mm=0.1,
        ovality_mm=0.01,
        tilt_mrad=0.4,
        rim_locals=(Local(90.0, 12.0, -0.03),),
        face_locals=(Local(350.0, 30.0, 0.03),),
    )
    assert damper.rim_mm(angle + 360 * turns) == pytest.approx(damper.rim_mm(angle), abs=1e-9)
    assert damper.face_mm(angle + 360 * turns) == pytest.approx(damper.face_mm(angle), abs=1e-9)
