"""Slips of the hand that the bay asks about: a digit typed wrongly, an inspection signed too early."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from simulators.rig import HAUL_TRUCK_DAMPER
from tests.story.telling import INSPECTION, Story, check_of

pytestmark = pytest.mark.slow

STATIONS_DEG = tuple(range(0, 360, 24))
# Of the fifteen readings this one says 0.153; the rim runs out by some 0.2 mm about it.
SLIP_DEG, TRUE_MM, TYPED_MM = 96, 0.153, 0.513


def dial_mm(angle_deg: float) -> float:
    """What the dial shows, its zero set anywhere."""
    damper = HAUL_TRUCK_DAMPER
    return round(damper.rim_mm(angle_deg) - damper.rim_mm(SLIP_DEG) + TRUE_MM, 3)


def type_turn(story: Story) -> None:
    story.do("begin", check="rim", gauge="typed", resolution_mm=0.001, mpe_mm=0.004)
    for angle_deg in STATIONS_DEG:
        value_mm = TYPED_MM if angle_deg == SLIP_DEG else dial_mm(angle_deg)
        story.do("record", check="rim", angle_deg=angle_deg, value_mm=value_mm)


def test_a_typing_slip_is_asked_for_again_by_its_place(tmp_path: Path) -> None:
    with Story(tmp_path) as story:
        story.look()
        story.sweep("face")
        type_turn(story)
        story.do("end")
        result = story.finish()
    check = check_of(result, "rim")
    assert check.outcome == "invalid", check.reason
    assert re.search(rf"(?<![\d.]){SLIP_DEG}(\.0)? (degrees|deg)\b", check.reason), check.reason
    assert result.verdict == "measure-again"


def test_a_typing_slip_is_corrected(tmp_path: Path) -> None:
    with Story(tmp_path) as story:
        story.look()
        story.sweep("face")
        type_turn(story)
        story.do("record", check="rim", angle_deg=SLIP_DEG, value_mm=TRUE_MM, replace=True)
        story.do("end")
        result = story.finish()
    check = check_of(result, "rim")
    assert check.readings == len(STATIONS_DEG)
    assert check.outcome == "within", check.reason
    assert check.true_tir_mm is not None
    assert check.u_expanded_mm is not None
    assert abs(check.true_tir_mm - HAUL_TRUCK_DAMPER.rim_tir_mm()) <= check.u_expanded_mm
    assert result.verdict == "keep"


def test_an_incomplete_inspection_is_signed_only_when_sure(tmp_path: Path) -> None:
    with Story(tmp_path) as story:
        story.look()
        story.sweep("rim")
        story.do("close", inspection=INSPECTION)
        code, message = story.refused("sign", inspection=INSPECTION, name="R. Example")
        assert code == "ask-once", message
        assert "face" in message
        assert story.result().state == "closed"
        story.do("sign", inspection=INSPECTION, name="R. Example", sure=True)
        result = story.result()
    assert (result.state, result.signed_by, result.verdict) == ("signed", "R. Example", "incomplete")


def test_a_complete_inspection_is_signed_without_a_question(tmp_path: Path) -> None:
    with Story(tmp_path) as story:
        story.look()
        story.sweep("rim")
        story.sweep("face")
        result = story.finish()
    assert (result.state, result.verdict) == ("signed", "keep")
