"""Marks pressed wrongly: twice, or while the crank stands. A turn that was not barred is never a turn."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.journal.events import Mark
from simulators.damper import Damper
from tests.story.telling import PRESS_AFTER_S, Story, check_of, running_out

pytestmark = pytest.mark.slow

OVER, SOUND = running_out(rim_mm=0.35, at_deg=300.0), running_out(rim_mm=0.2, at_deg=300.0)


class TwicePressed(Story):
    """The pedal is pressed again before the bar has been set anew: a question comes back, nobody answers it,
    and the crank is barred on."""

    again_s = 0.3
    questions = 0

    def pressed(self) -> None:
        self.do("mark")
        self.wait(self.again_s)
        if not self.bay.is_sweeping:  # it was the mark that closed the turn
            return
        code, message = self.refused("mark")
        assert code == "pressed-twice", message
        assert "\n" not in message
        self.questions += 1


@pytest.mark.parametrize("again_s", [0.15, 0.3])
@pytest.mark.parametrize(("damper", "outcome"), [(OVER, "over"), (SOUND, "within")])
def test_a_mark_pressed_twice_is_asked_about_and_the_sweep_goes_on_right(
    damper: Damper, outcome: str, again_s: float, tmp_path: Path
) -> None:
    with TwicePressed(tmp_path, damper=damper, source="marks") as story:
        story.again_s = again_s
        story.look()
        story.sweep("rim")
        assert story.questions == 3
        story.sweep("face")
        marks = [event.angle_udeg / 1e6 for event in _marks(story)]
        result = story.finish()
    # Rim from 0, face from the mark to which the crank was barred on.
    assert marks == [0, 120, 240, 360, 480, 600, 720, 840]
    check = check_of(result, "rim")
    assert check.outcome == outcome, check.reason
    assert check.true_tir_mm is not None
    assert check.u_expanded_mm is not None
    assert abs(check.true_tir_mm - damper.rim_tir_mm()) <= check.u_expanded_mm
    assert check.covered_deg is not None
    assert check.covered_deg >= 360.0 - 1.0


def test_presses_on_a_standing_crank_are_asked_about_each(tmp_path: Path) -> None:
    with Story(tmp_path, damper=OVER, source="marks") as story:
        story.begin("rim")
        story.do("mark")
        for _ in range(4):
            story.wait(5.0)
            code, message = story.refused("mark")
            assert code == "pressed-twice", message
            assert story.bay.is_sweeping
        assert [event.angle_udeg for event in _marks(story)] == [0]


def test_a_turn_confirmed_on_a_standing_crank_is_invalid(tmp_path: Path) -> None:
    """Whoever insists gets no `within` from a crank that was never barred."""
    with Story(tmp_path, damper=OVER, source="marks") as story:
        story.look()
        story.begin("rim")
        for _ in range(4):
            story.wait(5.0)
            if not story.ask("mark")["ok"]:
                story.do("mark", sure=True)
        story.wait(PRESS_AFTER_S)
        if story.bay.is_sweeping:
            story.do("end")
        story.sweep("face")
        result = story.finish()
    check = check_of(result, "rim")
    assert check.outcome == "invalid", check.reason
    assert result.verdict == "measure-again"


def _marks(story: Story) -> list[Mark]:
    return [event for event in story.events() if isinstance(event, Mark)]
