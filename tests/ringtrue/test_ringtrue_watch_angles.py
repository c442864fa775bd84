"""What a display of lines says of angles."""

from __future__ import annotations

from display.shown import live_parts
from tests.ringtrue.test_ringtrue_watch import MM, RUNNING


def test_an_angle_that_is_not_of_the_timing_mark_says_so_and_the_next_stop_is_told() -> None:
    parts = live_parts(RUNNING.model_copy(update={"angle_zero": "encoder"}), {}, MM)
    assert parts[1] == "angle 124.6° of the encoder"
    parts = live_parts(
        RUNNING.model_copy(update={"angle_zero": "timing-mark", "next_mark_deg": 480.0}), {}, MM
    )
    assert parts[1:3] == ["angle 124.6°", "next stop at 120°"]
