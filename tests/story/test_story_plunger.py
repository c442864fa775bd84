"""What goes wrong at the plunger and the base: bytes that look like a good sweep, to `invalid` and why."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from simulators.damper import Damper
from simulators.plunger import EndOfTravel, Knock, Off, PlungerFault, Slip, Spike, Sticking
from tests.story.telling import Insisting, Source, Story, Surface, check_of, running_out

pytestmark = pytest.mark.slow

SOURCES: tuple[Source, ...] = ("encoder", "marks")
NM = 1_000_000.0


def told(folder: Path, damper: Damper, surface: Surface, source: Source, *faults: PlungerFault) -> Story:
    """A whole inspection of which one surface is swept with a fault; to be used as a context."""
    story = Story(folder, damper=damper, source=source)
    story.look()
    for name in ("rim", "face"):
        story.sweep("rim" if name == "rim" else "face", *(faults if name == surface else ()))
    return story


@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("high", [True, False])
@pytest.mark.parametrize("noise_nm", [0.0, 400.0, 800.0])
def test_a_plunger_at_the_end_of_its_travel_is_not_judged(
    noise_nm: float, high: bool, source: Source, tmp_path: Path
) -> None:
    end = EndOfTravel(high_nm=0.095 * NM) if high else EndOfTravel(low_nm=-0.095 * NM)
    with Story(tmp_path, damper=running_out(rim_mm=0.31), source=source) as story:
        story.rig.indicator.noise = noise_nm
        story.look()
        story.sweep("rim", end)
        story.sweep("face")
        result = story.finish()
    check = check_of(result, "rim")
    assert check.tir_mm == pytest.approx(0.25, abs=0.005)  # as a dial would have shown
    assert check.outcome in ("invalid", "unclear"), check.reason
    assert "the readings stand" in check.reason
    assert "travel" in check.reason or noise_nm > 400.0, check.reason
    assert result.verdict == "measure-again"


@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("surface", ["rim", "face"])
@pytest.mark.parametrize("noise_nm", [0.0, 800.0])
def test_a_plunger_that_does_not_touch_is_invalid(
    noise_nm: float, surface: Surface, source: Source, tmp_path: Path
) -> None:
    """It shows one value, or flickers between two in its last digit."""
    with Insisting(tmp_path, damper=running_out(rim_mm=0.31, face_mm=0.31), source=source) as story:
        story.look()
        story.rig.indicator.noise, story.rig.indicator.drift_per_s = noise_nm, 0.0
        story.sweep(surface, Off(412_500.0))
        assert (story.questions > 0) is (source == "marks")
        result = story.finish()
    check = check_of(result, surface)
    assert check.outcome == "invalid", check.reason
    assert "touch" in check.reason
    assert result.verdict == "measure-again"


@pytest.mark.parametrize("by_mm", [0.10, -0.10])
def test_a_base_that_slips_far_on_the_rim_is_invalid(by_mm: float, tmp_path: Path) -> None:
    """The turn does not close: that is said, and the place needs no search."""
    with told(tmp_path, running_out(rim_mm=0.2), "rim", "encoder", Slip(200.0, by_mm * NM)) as story:
        result = story.finish()
    check = check_of(result, "rim")
    assert check.outcome == "invalid", check.reason
    (apart,) = re.findall(r"differs by ([+-]\d+\.\d+) mm", check.reason)
    assert float(apart) == pytest.approx(by_mm, abs=0.005)
    assert "check the base" in check.reason
    assert result.verdict == "measure-again"


@pytest.mark.parametrize("by_mm", [0.02, -0.02])
def test_a_base_that_slips_a_little_on_the_rim_is_placed(by_mm: float, tmp_path: Path) -> None:
    with Story(tmp_path, damper=running_out(rim_mm=0.2)) as story:
        story.look()
        story.sweep("face")
        from_deg = story.rig.crank.angle_deg(story.clock.now_ns)
        story.sweep("rim", Slip(200.0, by_mm * NM))
        result = story.finish()
    check = check_of(result, "rim")
    assert check.outcome == "invalid", check.reason
    assert "base" in check.reason
    places = [float(number) for number in re.findall(r"(\d+(?:\.\d+)?) degrees", check.reason)]
    assert any(abs(place - (from_deg + 200.0) % 360.0) <= 10.0 for place in places), check.reason
    assert result.verdict == "measure-again"


@pytest.mark.parametrize("by_mm", [0.10, -0.10])
def test_a_base_that_slips_on_the_rim_between_marks_is_never_within(by_mm: float, tmp_path: Path) -> None:
    """Between marks no angle is known by itself: that it slipped may show, where it did not."""
    with told(tmp_path, running_out(rim_mm=0.2), "rim", "marks", Slip(200.0, by_mm * NM)) as story:
        result = story.finish()
    check = check_of(result, "rim")
    assert check.outcome in ("unclear", "invalid"), check.reason
    assert result.verdict == "measure-again"


MOVED: dict[str, PlungerFault] = {
    "slips in": Slip(200.0, 0.10 * NM),
    "slips out": Slip(200.0, -0.10 * NM),
    "is leant upon": Knock(20.0, 220.0, -0.10 * NM),
}


@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("tir_mm", [0.2, 0.31])
@pytest.mark.parametrize("name", MOVED)
def test_one_indicator_cannot_tell_a_moved_base_on_the_face_from_end_float(
    name: str, tir_mm: float, source: Source, tmp_path: Path
) -> None:
    """Nor an end float from the surface: what is taken away could be what takes the damper over the limit."""
    with told(tmp_path, running_out(face_mm=tir_mm), "face", source, MOVED[name]) as story:
        result = story.finish()
    check = check_of(result, "face")
    assert check.outcome in ("unclear", "invalid", *(("over",) if tir_mm > 0.28 else ())), check.reason
    assert result.verdict != "keep"


HARMFUL: dict[str, PlungerFault] = {
    "sticks over the crest": Sticking(5.0, 65.0),
    "a spike up": Spike(150.0, 0.36 * NM),
    "leant upon": Knock(200.0, 230.0, 0.05 * NM),
    "leant upon over the crest": Knock(20.0, 80.0, -0.06 * NM),
}


@pytest.mark.parametrize("name", HARMFUL)
def test_a_fault_at_the_plunger_gives_no_wrong_answer(name: str, tmp_path: Path) -> None:
    """Above the limit it is not kept for it, below it not condemned."""
    for n, (tir_mm, wrong) in enumerate(((0.31, "within"), (0.2, "over"))):
        with told(tmp_path / str(n), running_out(rim_mm=tir_mm), "rim", "encoder", HARMFUL[name]) as story:
            check = check_of(story.finish(), "rim")
        assert check.outcome != wrong, check.reason
