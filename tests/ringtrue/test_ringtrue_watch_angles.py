"""What a display of lines says of angles."""

from __future__ import annotations

from contract.methods import MethodMessage, MethodNamed, method_payload
from display.shown import live_parts
from tests.ringtrue.test_ringtrue_watch import MM, RUNNING, TOPICS, Watched


def test_an_angle_that_is_not_of_the_timing_mark_says_so_and_the_next_stop_is_told() -> None:
    parts = live_parts(RUNNING.model_copy(update={"angle_zero": "encoder"}), {}, MM)
    assert parts[1] == "angle 124.6° of the encoder"
    parts = live_parts(
        RUNNING.model_copy(update={"angle_zero": "timing-mark", "next_mark_deg": 480.0}), {}, MM
    )
    assert parts[1:3] == ["angle 124.6°", "next stop at 120°"]


def test_the_method_in_force_is_said_once_and_that_another_waits() -> None:
    watched = Watched()
    third = MethodNamed(id="quarry", version="3", sha256="0" * 64, number=3, since="2026-11-02T06:00:00.000Z")
    fourth = third.model_copy(update={"version": "4", "number": 4})
    for message in (
        MethodMessage(in_force=third),
        MethodMessage(in_force=third),
        MethodMessage(in_force=third, waiting=fourth),
        MethodMessage(in_force=fourth, withheld="it is damaged"),
    ):
        watched.screen.take(TOPICS.method, method_payload(message))
    assert watched.lines == [
        "greywacke/bay-2: by method quarry 3, since 2026-11-02",
        "greywacke/bay-2: by method quarry 3; quarry 4 waits until this inspection is over",
        "greywacke/bay-2: no method is in force: no inspection can be opened",
    ]
