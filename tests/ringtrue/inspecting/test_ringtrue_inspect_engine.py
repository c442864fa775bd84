"""A whole inspection on the engine, led through by the screen."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from tests.ringtrue.inspecting.bay import memory_bay, round_rim
from tests.ringtrue.inspecting.screen import all_good, opened, screen_of

pytestmark = pytest.mark.slow


async def test_a_damper_that_may_stay_is_kept_signed_and_due(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        await opened(screen)
        await screen.see("look on the engine: 1 of 8", "Spilled silicone is slippery")
        await all_good(screen, bay.bench.files.method)
        await screen.see("LOOK ON THE ENGINE: GOOD", "go on: rim run-out")
        await screen.press("enter")
        await screen.see("radially to the rim", "begin, with indicator-1")
        assert "encoder-1" not in screen.text
        await screen.press("1")
        await screen.see("Bar on, evenly", "never turn the engine by the damper", "limit 0.280 mm")
        await bay.bar(round_rim(0.1), 180)
        await screen.see("covered 180°", "bar 185° more", "BIG")
        await bay.bar(round_rim(0.1), from_deg=182)
        await screen.see("RIM RUN-OUT: WITHIN", "go on: face wobble")
        await screen.press("enter")
        await screen.see("Lever the crankshaft to one end of its float and hold it there")
        await screen.press("1")
        await screen.type("140")
        await screen.see("face wobble, indicator-1")
        await bay.bar(round_rim(0.06))
        await screen.see("FACE WOBBLE: WITHIN")
        await screen.press("enter")
        await screen.see("all checks", "KEEP", "close: nothing more is measured")
        await screen.press("enter")
        await screen.see("Closed, nothing more can be measured")
        await screen.press("k")
        await screen.see(
            "before the lock comes off", "Take barring tool and gauges off the engine", "read: go on"
        )
        await screen.press("enter")
        await screen.see("VERDICT: KEEP", "a qualified person decides")
        await screen.press("enter")
        await screen.see("is signed by R. Example", "Next due", "14 840 h", "before the lock comes off")


async def test_one_that_runs_out_too_far_is_measured_again_and_replaced(tmp_path: Path) -> None:
    """What is over says what reads like it, and asks for another sweep before it is condemned."""
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        await opened(screen)
        await all_good(screen, bay.bench.files.method)
        await screen.press("enter", "1")
        await screen.see("Bar on")
        await bay.bar(round_rim(0.4), 200)
        await screen.see("ABOVE THE LIMIT")
        await bay.bar(round_rim(0.4), from_deg=202)
        await screen.see(
            "RIM RUN-OUT: OVER", "is over the limit", "look for them first", "[Enter] measure again"
        )
        await screen.press("enter", "1")
        await screen.see("Bar on")
        await bay.bar(round_rim(0.4))
        await screen.see("2 attempts, 2 counted")
        await screen.press("o")
        await screen.see("Lever the crankshaft")
        await screen.press("l", "k")
        await screen.see("face wobble: missing", "rim run-out: over")
        await screen.press("k")
        await screen.see("read: go on")
        await screen.press("enter")
        await screen.see("VERDICT: REPLACE")
        await screen.press("enter")
        await screen.see("are you sure?", "rim over, face missing).", "Sign it as it stands?")
        assert "sure=true" not in screen.text
        await screen.press("n")
        await screen.see("VERDICT: REPLACE", "[d] decide otherwise")
        await screen.press("escape", "d", "2")
        await screen.see("your decision measure-again: why?")
        await screen.type("no crank to hold")
        await screen.see("are you sure?", "Sign it, with your decision measure-again beside it?")
        await screen.press("y")
        await screen.see(
            "is signed by R. Example", "Decided otherwise: MEASURE AGAIN: it is not settled. no crank to hold"
        )
        assert "Next due" not in screen.text


async def test_a_plain_dial_is_typed_and_put_right(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay, unit="in") as screen:
        await opened(screen)
        await all_good(screen, bay.bench.files.method)
        await screen.press("enter", "p")
        await screen.see("One step: the least that you can tell apart")
        await screen.type("0,0005", "")
        await screen.see("Stop at a place and type")
        await screen.type("0", "0.0010", "", "")
        await screen.see("1 reading, the last +0.0010")
        await screen.type("45", "0.0123x", "", "")
        await screen.see("2 readings, the last +0.0123")
        await screen.press("r")
        await screen.see("Which one was typed wrong")
        await screen.type("45", "0.0023", "", "")
        await screen.see("2 readings", "run-out so far 0.0013, limit 0.0110 in")
        around = (23, 30, 25, 10, -5, -10, -5, 10)
        for number, (before, now) in enumerate(pairwise(around), 2):
            low, high = sorted((before, now))
            await screen.type(str(45 * number), *(f"{each / 10_000:.4f}" for each in (now, low, high)))
            await screen.see(f"{number + 1} readings")
        await screen.press("e")
        await screen.see("RIM RUN-OUT: WITHIN", "is within the limit of 0.0110 in")
        assert " mm" not in screen.text
        typed = [said for name, said in bay.asked() if name == "record" and "value_mm" in said]
        assert typed[1] | {"id": ""} == {
            "id": "", "operator": "R. Example", "inspection": "truck-14", "check": "rim",
            "angle_deg": 45.0, "value_mm": 0.31242,
        }  # fmt: skip
        assert (typed[2]["value_mm"], typed[2]["replace"]) == (0.05842, True)


async def test_marks_are_pressed_once_and_a_second_press_is_asked_about(tmp_path: Path) -> None:
    async with memory_bay(tmp_path, "marks") as bay, screen_of(bay) as screen:
        await opened(screen)
        await all_good(screen, bay.bench.files.method)
        await screen.press("enter", "1")
        await screen.see("[Enter] the crank stands at 0°", "Bar on until the mark")
        await bay.turn_to_mark(round_rim(0.1), 0, 0)
        await screen.press("enter")
        await screen.see("the crank stands at 120°")
        await screen.press("enter")
        await screen.see("are you sure?", "after the mark at 0 degrees.", "Was the crank turned")
        await screen.press("n")
        await screen.see("the crank stands at 120°")
        for start in (0, 120):
            await bay.turn_to_mark(round_rim(0.1), start, start + 120)
            await screen.press("enter")
            await screen.see(f"the crank stands at {(start + 240) % 360}°")
        bay.restart()
        await screen.see("type the angle of this mark")
        assert "the crank stands at 0°" not in screen.text
