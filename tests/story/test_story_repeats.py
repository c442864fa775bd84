"""A check tried more than once: one bad repeat does not undo what was proven, and contradictions are said."""

from __future__ import annotations

from pathlib import Path

import pytest

from simulators.damper import Damper
from simulators.plunger import Off
from tests.story.telling import Insisting, Source, Story, Surface, check_of, running_out

pytestmark = pytest.mark.slow

SOURCES: tuple[Source, ...] = ("encoder", "marks")
OFF = Off(412_300.0)


def alike(tir_mm: float) -> Damper:
    """Rim and face run out by the same."""
    return running_out(rim_mm=tir_mm, face_mm=tir_mm)


def sound_but_for(story: Story, surface: Surface) -> None:
    """The other checks, on a damper that is true."""
    story.look()
    told, story.rig.damper = story.rig.damper, alike(0.1)
    story.sweep("face" if surface == "rim" else "rim")
    story.rig.damper = told


@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("surface", ["rim", "face"])
def test_a_repeat_with_the_plunger_off_does_not_undo_over(
    surface: Surface, source: Source, tmp_path: Path
) -> None:
    with Insisting(tmp_path, damper=alike(0.31), source=source) as story:
        sound_but_for(story, surface)
        story.sweep(surface)
        story.sweep(surface)
        assert not story.questions
        before = check_of(story.result(), surface)
        assert before.outcome == "over", before.reason
        # Without noise it shows one value for ever.
        story.rig.indicator.noise = story.rig.indicator.drift_per_s = 0.0
        story.sweep(surface, OFF)
        result = story.finish()
    check = check_of(result, surface)
    assert check.outcome == "over", check.reason
    assert result.verdict == "replace"
    assert any("later attempt" in warning for warning in check.warnings), check.warnings
    assert check.attempts is not None
    assert [attempt.counted for attempt in check.attempts] == [True, True, False]


@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("surface", ["rim", "face"])
def test_one_low_repeat_does_not_outvote_two_over(surface: Surface, source: Source, tmp_path: Path) -> None:
    with Story(tmp_path, damper=alike(0.31), source=source) as story:
        sound_but_for(story, surface)
        story.sweep(surface)
        story.sweep(surface)
        story.rig.damper = alike(0.20)
        story.sweep(surface)
        result = story.finish()
    check = check_of(result, surface)
    assert check.outcome == "unclear", check.reason
    assert result.verdict == "measure-again"


@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("surface", ["rim", "face"])
@pytest.mark.parametrize("tirs_mm", [(0.20, 0.33), (0.33, 0.20), (0.12, 0.20)])
def test_sweeps_of_two_dampers_are_unclear(
    tirs_mm: tuple[float, float], surface: Surface, source: Source, tmp_path: Path
) -> None:
    """The second fitted after the first, or the neighbour's engine swept by mistake."""
    with Story(tmp_path, source=source) as story:
        sound_but_for(story, surface)
        for tir_mm in tirs_mm:
            story.rig.damper = alike(tir_mm)
            story.sweep(surface)
        result = story.finish()
    check = check_of(result, surface)
    assert check.outcome == "unclear", check.reason
    assert result.verdict == "measure-again"
