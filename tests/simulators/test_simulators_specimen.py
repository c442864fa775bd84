from __future__ import annotations

import pytest

from contract.terms import Radius
from simulators.casing import Casing
from simulators.damper import Damper, Local
from simulators.mounting import Mounting
from simulators.specimen import FAULTS, Fault, Limits, drawn

RADII: tuple[Radius, ...] = ("outer", "inner")
PLACES = tuple((station_deg, radius) for station_deg in (0.0, 90.0, 180.0, 270.0) for radius in RADII)
LIMITS = Limits(rim_mm=0.28, face_mm=0.28, thickness_mm=0.25, places=PLACES)
# What no remedy mends; the rest is sound, and measured badly or badly seated.
GO: tuple[Fault, ...] = ("eccentric", "tilted", "swollen", "dented", "leaking", "cracked")


@pytest.mark.slow
@pytest.mark.parametrize("fault", FAULTS)
def test_each_fault_is_what_its_name_says_however_it_is_drawn(fault: Fault) -> None:
    for seed in ("1", "2"):
        for far in (False, True):
            specimen = drawn(seed, LIMITS, fault, far=far)
            assert (specimen.fault, specimen.is_far) == (fault, far)
            own = specimen.figures(PLACES)
            seated = specimen.figures(PLACES, specimen.mounting)
            assert specimen.must_go(LIMITS) is (fault in GO)
            assert (own.rim > 0.28) is (fault == "eccentric" or (fault == "dented" and far))
            assert (own.face > 0.28) is (fault == "tilted")
            assert (own.thickness > 0.25) is (fault == "swollen")
            assert (seated.rim > 0.28) is (own.rim > 0.28 or fault == "bolts-loose")
            assert (seated.face > 0.28) is (fault in ("tilted", "dirty-mounting"))
            mended = specimen.figures(PLACES, specimen.mounting.cleaned())
            assert (mended.rim, mended.face) == pytest.approx((own.rim, own.face), abs=1e-9)


@pytest.mark.slow
def test_near_is_near_the_limit_and_far_is_far_from_it() -> None:
    named: tuple[tuple[Fault, str], ...] = (("eccentric", "rim"), ("tilted", "face"))
    for seed in ("3", "4", "5"):
        for fault, name in named:
            near = drawn(seed, LIMITS, fault, far=False).figures(PLACES)
            far = drawn(seed, LIMITS, fault, far=True).figures(PLACES)
            assert 0.29 < getattr(near, name) < 0.33
            assert 0.37 < getattr(far, name) < 0.54


def test_a_seed_draws_the_same_specimen_every_time_and_another_another() -> None:
    assert drawn("practice 7", LIMITS) == drawn("practice 7", LIMITS)
    assert drawn("practice 7", LIMITS).damper != drawn("exam 7", LIMITS).damper


@pytest.mark.slow
def test_every_fault_is_drawn_by_some_seed() -> None:
    assert {drawn(f"exam {number}", LIMITS).fault for number in range(60)} == set(FAULTS)


def test_a_grain_under_a_flange_tilts_by_its_height_over_the_diameter() -> None:
    """Plane geometry: 0.09 mm under 180 mm is 0.5 mrad, which at a radius of 150 mm is 0.15 mm to and fro."""
    seated = Mounting(dirt_mm=0.09, dirt_deg=30.0, flange_mm=180.0, offset_mm=30.0).carries(
        Damper(face_radius_mm=150.0)
    )
    assert seated.face_tir_mm() == pytest.approx(0.15, abs=1e-6)
    assert seated.rim_tir_mm() == pytest.approx(2 * 30.0 * 0.0005, abs=1e-6)
    assert (seated.tilt_deg, seated.eccentricity_deg) == pytest.approx((30.0, 30.0))


def test_offsets_add_as_vectors() -> None:
    """3 and 4 at right angles are 5; opposite and equal ones are none."""
    damper = Damper(eccentricity_mm=0.03, eccentricity_deg=10.0)
    across = Mounting(play_mm=0.04, play_deg=100.0).carries(damper)
    assert across.rim_tir_mm() == pytest.approx(0.1, abs=1e-6)
    against = Mounting(play_mm=0.03, play_deg=190.0).carries(damper)
    assert against.rim_tir_mm() == pytest.approx(0.0, abs=1e-9)


def test_tightening_takes_play_away_and_leaves_dirt() -> None:
    loose = Mounting(dirt_mm=0.1, play_mm=0.05)
    assert loose.is_loose
    assert not loose.tightened().is_loose
    assert loose.tightened().dirt_mm == 0.1
    assert loose.cleaned() == Mounting()


def test_a_casing_spreads_by_its_wedge_and_what_has_swollen() -> None:
    """A wedge of half-width 0.02 spreads by 0.04; a swelling at its thickest place adds its whole height."""
    assert Casing(wedge_mm=0.02).spread_mm(PLACES) == pytest.approx(0.04)
    swollen = Casing(wedge_mm=0.02, swelling=Local(0.0, 100.0, 0.3))
    assert swollen.spread_mm(PLACES) == pytest.approx(0.34)
    assert swollen.thickness_mm(0.0, "outer") == pytest.approx(40.27 + 0.02 + 0.4 * 0.3)


def test_paint_hides_the_casing_by_up_to_its_thickness() -> None:
    casing = Casing()
    layers = [casing.thickness_mm(*place, painted=True) - casing.thickness_mm(*place) for place in PLACES]
    assert 0.0 <= min(layers) < max(layers) <= casing.paint_mm
    assert max(layers) - min(layers) > 0.05
