"""Dampers that must go: bytes of a surface whose run-out is above the limit, to `replace`; never `keep`."""

from __future__ import annotations

from pathlib import Path

import pytest

from simulators.damper import Damper, Order, notches
from tests.story.telling import Source, Story, Surface, check_of, running_out

LIMIT_MM = 0.28
pytestmark = pytest.mark.slow


@pytest.mark.parametrize("source", ["encoder", "marks"])
@pytest.mark.parametrize("surface", ["rim", "face"])
def test_a_damper_truly_over_is_replaced(surface: Surface, source: Source, tmp_path: Path) -> None:
    damper = running_out(rim_mm=0.35) if surface == "rim" else running_out(face_mm=0.35)
    with Story(tmp_path, damper=damper, source=source) as story:
        story.look()
        story.sweep("rim")
        story.sweep("face")
        result = story.finish()
    check = check_of(result, surface)
    other = check_of(result, "face" if surface == "rim" else "rim")
    assert (check.outcome, other.outcome) == ("over", "within"), (check.reason, other.reason)
    assert check.true_tir_mm is not None
    assert check.u_expanded_mm is not None
    assert abs(check.true_tir_mm - 0.35) <= check.u_expanded_mm
    assert f"{check.true_tir_mm:.3f}" in check.reason
    assert "0.28" in check.reason
    assert result.verdict == "replace"
    assert result.next_due is None
    (said,) = [reason for reason in result.reasons if surface in reason]
    assert f"{check.true_tir_mm:.3f}" in said
    # Dirt and a mounting out of true read like a bad damper: it is not condemned without its remedy.
    assert "refit" in said
    assert said.index("before condemning the damper") < said.index("`ringtrue separate`")


# Their faces run out by 0.084 mm: a face that is true within the gauge's noise is asked about at each mark.
ROUGH = {
    "toothed": Damper(
        eccentricity_mm=0.115, eccentricity_deg=41.0, rim_orders=(Order(21, 0.032, 3.0),), tilt_mrad=0.3
    ),
    "finely toothed": Damper(
        eccentricity_mm=0.115, eccentricity_deg=41.0, rim_orders=(Order(45, 0.032),), tilt_mrad=0.3
    ),
    "notched": Damper(
        eccentricity_mm=0.115, rim_locals=notches(24, width_deg=6.0, depth_mm=0.06), tilt_mrad=0.3
    ),
    "bolted": Damper(
        eccentricity_mm=0.115, rim_locals=notches(6, width_deg=4.0, depth_mm=-0.06), tilt_mrad=0.3
    ),
}


@pytest.mark.parametrize("source", ["encoder", "marks"])
@pytest.mark.parametrize("rim", ROUGH)
def test_a_rough_rim_above_the_limit_is_never_kept(rim: str, source: Source, tmp_path: Path) -> None:
    damper = ROUGH[rim]
    assert damper.rim_tir_mm() > LIMIT_MM + 0.005
    with Story(tmp_path, damper=damper, source=source) as story:
        story.look()
        story.sweep("rim")
        story.sweep("face")
        result = story.finish()
    check = check_of(result, "rim")
    assert check.outcome in ("over", "unclear", "invalid"), check.reason
    assert result.verdict in ("replace", "measure-again")
