"""A gauge that goes away in mid-turn and comes back with another zero: told, never graded as a surface."""

from __future__ import annotations

from pathlib import Path

import pytest

from simulators.plunger import Slip
from tests.story.telling import Source, Story, Surface, check_of, running_out

pytestmark = pytest.mark.slow
NM = 1_000_000.0


@pytest.mark.parametrize("source", ["encoder", "marks"])
@pytest.mark.parametrize("surface", ["rim", "face"])
@pytest.mark.parametrize("by_mm", [0.12, -0.02])
def test_a_gauge_that_comes_back_with_another_zero_is_not_judged_by_both(
    by_mm: float, surface: Surface, source: Source, tmp_path: Path
) -> None:
    """By 0.12 mm it is invalid; by little from mark to mark, never within where it may be over."""
    with Story(tmp_path, damper=running_out(rim_mm=0.29, face_mm=0.29), source=source) as story:
        story.look()
        story.begin(surface)
        story.bar(122.0)
        story.switched_off(8.0, Slip(0.0, by_mm * NM))
        story.bar(360.0)
        if story.bay.is_sweeping:
            story.do("end")
        check = check_of(story.finish(), surface)
    assert check.outcome != "within", check.reason
    assert any("was away for" in warning for warning in check.warnings)
    if source == "encoder":
        assert check.outcome == "invalid", check.reason
        assert "came back with another zero" in check.reason


@pytest.mark.parametrize("source", ["encoder", "marks"])
def test_a_gauge_that_comes_back_as_it_was_costs_little(source: Source, tmp_path: Path) -> None:
    with Story(tmp_path, damper=running_out(rim_mm=0.2), source=source) as story:
        story.look()
        story.begin("rim")
        story.bar(122.0)
        story.switched_off(8.0)
        story.bar(360.0)
        if story.bay.is_sweeping:
            story.do("end")
        check = check_of(story.finish(), "rim")
    assert check.outcome == "within", check.reason
    assert check.true_tir_mm == pytest.approx(0.2, abs=check.u_expanded_mm)


@pytest.mark.parametrize(("nm_per_s", "outcome"), [(400.0, "within"), (3000.0, "invalid")])
def test_drift_is_told_by_what_the_second_pass_shows(nm_per_s: float, outcome: str, tmp_path: Path) -> None:
    with Story(tmp_path, damper=running_out(rim_mm=0.2)) as story:
        story.look()
        story.rig.indicator.drift_per_s = nm_per_s
        story.sweep("rim")
        check = check_of(story.finish(), "rim")
    assert check.outcome == outcome, check.reason
    told = check.reason if outcome == "invalid" else " ".join(check.warnings)
    assert "the second pass over the start differs by +0.0" in told
    if outcome == "within":
        assert check.true_tir_mm == pytest.approx(0.2, abs=check.u_expanded_mm)
