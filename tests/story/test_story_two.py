"""Two indicators at once: both surfaces in the same turns, or one face read twice, from bytes to verdict."""

from __future__ import annotations

from pathlib import Path

import pytest

from simulators.plunger import Slip
from tests.acquire.workbench import INDICATOR, SECOND
from tests.story.telling import Story, check_of, running_out

pytestmark = pytest.mark.slow
NM = 1_000_000.0


def test_both_surfaces_in_the_same_two_turns(tmp_path: Path) -> None:
    damper = running_out(rim_mm=0.2, face_mm=0.15)
    with Story(tmp_path, damper=damper, second=True) as story:
        story.look()
        story.second_on = "face"
        story.do("begin", check="rim", gauge=INDICATOR, turns=2)
        story.do("begin", check="face", gauge=SECOND, turns=2)
        live = story.bay.live()
        assert live is not None
        assert (live.check, [beside.check for beside in live.beside]) == ("rim", ["face"])
        story.bar(735.0)
        assert not story.bay.is_sweeping
        result = story.finish()
    assert result.verdict == "keep"
    for surface, tir_mm in (("rim", 0.2), ("face", 0.15)):
        check = check_of(result, surface)
        assert check.true_tir_mm == pytest.approx(tir_mm, abs=check.u_expanded_mm)
        assert check.covered_deg is not None
        assert check.covered_deg > 720.0
        assert check.turn_to_turn_mm is not None
        assert check.turn_to_turn_mm < 0.001  # the same bytes would have to repeat by themselves
        assert any("from turn to turn" in line.source for line in check.budget or ())
        assert "comes back within the turn" not in " ".join(check.excluded or ())


@pytest.mark.parametrize("tir_mm", [0.2, 0.31])
def test_float_that_two_indicators_prove_is_taken_off(tir_mm: float, tmp_path: Path) -> None:
    """And takes nothing off a face that is over by itself."""
    slid = Slip(100.0, -0.12 * NM), Slip(230.0, 0.12 * NM)
    with Story(tmp_path, damper=running_out(face_mm=tir_mm), second=True) as story:
        story.look()
        story.sweep("rim")
        story.rig.surface = "face"
        story.do("begin", check="face", gauge=INDICATOR, opposite=SECOND)
        story.suffer(slid, slid)
        story.bar(370.0)
        assert not story.bay.is_sweeping
        result = story.finish()
    check = check_of(result, "face")
    assert check.outcome == ("within" if tir_mm < 0.28 else "over"), check.reason
    assert check.true_tir_mm == pytest.approx(tir_mm, abs=check.u_expanded_mm)
    assert check.level_steps is not None
    assert [step.height_mm for step in check.level_steps] == pytest.approx([-0.12, 0.12], abs=0.003)
    assert check.end_float_steps == 2
    assert any("taken off: -0.1" in warning for warning in check.warnings)


def test_one_indicator_does_not_grade_a_face_that_floats_so_far(tmp_path: Path) -> None:
    with Story(tmp_path, damper=running_out(face_mm=0.2)) as story:
        story.look()
        story.sweep("rim")
        story.sweep("face", Slip(100.0, -0.12 * NM), Slip(230.0, 0.12 * NM))
        check = check_of(story.finish(), "face")
    assert check.outcome == "invalid", check.reason
    assert "hold the crankshaft to one end of its float" in check.reason


def test_a_second_indicator_that_is_bumped_is_told(tmp_path: Path) -> None:
    with Story(tmp_path, damper=running_out(face_mm=0.2), second=True) as story:
        story.look()
        story.sweep("rim")
        story.rig.surface = "face"
        story.do("begin", check="face", gauge=INDICATOR, opposite=SECOND)
        story.suffer((), (Slip(100.0, -0.08 * NM),))
        story.bar(370.0)
        check = check_of(story.finish(), "face")
    assert check.outcome == "within", check.reason
    assert check.true_tir_mm == pytest.approx(0.2, abs=check.u_expanded_mm)
    assert check.opposite is not None
    assert not check.opposite.counts
    assert any("indicator-2, does not count" in warning for warning in check.warnings)


def test_from_mark_to_mark_nothing_is_taken_off_and_that_is_said(tmp_path: Path) -> None:
    slid = Slip(100.0, -0.05 * NM), Slip(230.0, 0.05 * NM)
    with Story(tmp_path, damper=running_out(face_mm=0.2), source="marks", second=True) as story:
        story.look()
        story.rig.surface = "face"
        story.do("begin", check="face", gauge=INDICATOR, opposite=SECOND)
        story.suffer(slid, slid)
        story.bar(370.0)
        if story.bay.is_sweeping:
            story.do("end")
        check = check_of(story.result(), "face")
    assert check.outcome != "within", check.reason
    assert not any(step.is_float for step in check.level_steps or ())
    assert any(
        "it takes an encoder" in said for said in (*(check.excluded or ()), *check.warnings, check.reason)
    )
