"""What disturbs a sweep, from bytes to result: each has its name, its place and its size, and a rule of the
method by which it counts: where that rule lets it pass, it is said no more.

Stuck over less than shows, and what from mark to mark cannot be placed, stand in `test_story_plunger`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from config.method import Method
from grading.assess import judge
from simulators.plunger import EndOfTravel, Slip, Sticking
from tests.story.telling import Story, check_of, running_out

pytestmark = pytest.mark.slow
NM = 1_000_000.0
DEG = r"(\d+) degrees"
MM = r"([+-]?\d+\.\d+) mm"


def bumped(story: Story) -> None:
    story.sweep("rim", Slip(200.0, 0.02 * NM))


def at_the_end_of_its_travel(story: Story) -> None:
    story.sweep("rim", EndOfTravel(high_nm=0.07 * NM))


def stuck(story: Story) -> None:
    story.sweep("rim", Sticking(5.0, 105.0))


def switched_off(story: Story) -> None:
    story.begin("rim")
    story.bar(122.0)
    story.switched_off(8.0, Slip(0.0, 0.12 * NM))
    story.bar(250.0)


def drifting(story: Story) -> None:
    story.rig.indicator.drift_per_s = 3_000.0
    story.sweep("rim")


NO_ARC = {"max_still_deg": 359.0, "signs": {"held_chance": 1e-300, "held_maybe_chance": 1e-300}}


@pytest.mark.parametrize(
    ("disturb", "name", "deg", "mm", "rule"),
    [
        (bumped, "base or plunger slipped", 200, 0.02, {"max_slip_mm": 1.0}),
        (at_the_end_of_its_travel, "the end of the gauge's travel", 87, 0.07, NO_ARC),
        (stuck, "the plunger sticks", 100, 0.08, NO_ARC),
        (switched_off, "came back with another zero", 122, 0.12, {"max_new_zero_mm": 1.0}),
        (drifting, "the second pass over the start differs", None, 0.073, {"max_closure_mm": 1.0}),
    ],
    ids=lambda each: getattr(each, "__name__", ""),
)
def test_it_is_named_placed_and_sized_and_a_rule_of_the_method_decides(
    disturb: Callable[[Story], None],
    name: str,
    deg: float | None,
    mm: float,
    rule: dict[str, Any],
    tmp_path: Path,
) -> None:
    """deg: as barred from the start, where it lies or ends; drift lies nowhere."""
    with Story(tmp_path, damper=running_out(rim_mm=0.2)) as story:
        story.look()
        start_deg = story.rig.crank.angle_deg(story.clock.now_ns)
        disturb(story)
        check = check_of(story.result(), "rim")
        evidence, method = story.evidence()
    assert check.outcome == "invalid", check.reason
    assert name in check.reason
    sizes = [float(each) for each in re.findall(MM, check.reason)]
    assert any(size == pytest.approx(mm, abs=0.006) for size in sizes), check.reason
    places = [float(each) - start_deg for each in re.findall(DEG, check.reason)]
    assert deg is None or any(abs((p - deg + 180.0) % 360.0 - 180.0) < 12.0 for p in places), check.reason
    data = method.model_dump()
    data["rim"]["sweep"] = _with(data["rim"]["sweep"], rule)
    lax = judge("rim", evidence.attempts["rim"], Method.model_validate(data))
    assert name not in lax.reason


def _with(data: dict[str, Any], rule: dict[str, Any]) -> dict[str, Any]:
    """A part of the method with another rule in it."""
    nested = {key: _with(data[key], value) for key, value in rule.items() if isinstance(value, dict)}
    return {**data, **rule, **nested}
