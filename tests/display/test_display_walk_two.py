"""The walk with two indicators: both surfaces in the same turns, a face under both, two turns."""

from __future__ import annotations

from dataclasses import replace

from contract.live import BesidePart, Live
from display.walk.course import page_of
from display.walk.page import Send, Turn
from display.walk.view import View
from display.walk.words import DEAF
from tests.display.pages import NAME, PLAIN, gauge, result

TWO = {"7": gauge("connected"), "8": gauge("connected")}
THERE = View("1/2", live=Live(inspection=NAME), result=result(), gauges=TWO)
RIM = Live(inspection=NAME, check="rim", gauge="7", to_bar_deg=300.0, limit_mm=0.28, angle_source="encoder")


def chosen(view: View, key: str, **place: object) -> Send | Turn:
    """What a choice comes to."""
    choice = page_of(view, replace(PLAIN, **place), {}).chosen(key)  # type: ignore[arg-type]  # a place's own
    assert choice is not None, key
    act = choice.act({})
    assert isinstance(act, (Send, Turn))
    return act


def test_a_face_is_begun_with_a_second_one_opposite() -> None:
    turn = chosen(THERE, "o", check="face", stage="begin")
    assert isinstance(turn, Turn)
    page = page_of(THERE, turn.place, {})
    assert any("half a turn away" in line for line in page.says)
    main = page.main
    assert main is not None
    begun = main.act({"begin.radius": "140"})
    assert isinstance(begun, Send)
    assert begun.arguments == {"check": "face", "gauge": "7", "opposite": "8", "radius_mm": 140.0}


def test_two_turns_are_asked_for_and_told() -> None:
    turn = chosen(THERE, "t", check="rim", stage="begin")
    assert isinstance(turn, Turn)
    assert any("two full turns" in line for line in page_of(THERE, turn.place, {}).says)
    choice = page_of(THERE, turn.place, {}).chosen("1")
    assert choice is not None
    begun = choice.act({})
    assert isinstance(begun, Send)
    assert begun.arguments == {"check": "rim", "gauge": "7", "turns": 2}


def test_the_other_surface_is_begun_beside_the_one_that_runs() -> None:
    begun = chosen(replace(THERE, live=RIM), "b")
    assert isinstance(begun, Send)
    assert begun.arguments == {"check": "face", "gauge": "8"}
    two_turns = chosen(replace(THERE, live=RIM.model_copy(update={"to_bar_deg": 725.0})), "b")
    assert isinstance(two_turns, Send)
    assert two_turns.arguments == {"check": "face", "gauge": "8", "turns": 2}


def test_what_runs_beside_is_shown_and_no_third_is_offered() -> None:
    beside = BesidePart(check="face", gauge="8", max_deviation_mm=0.3, limit_mm=0.28)
    view = replace(THERE, live=RIM.model_copy(update={"beside": (beside,)}))
    page = page_of(view, PLAIN, {})
    assert "face wobble, 8: run-out so far 0.300, limit 0.280 mm" in page.rows
    assert "ABOVE THE LIMIT" in page.rows
    assert page.chosen("b") is None
    silent = replace(view, gauges={**TWO, "8": gauge("silent")})
    assert silent.is_deaf
    assert page_of(silent, PLAIN, {}).says == (DEAF,)


def test_with_one_gauge_nothing_of_it_is_offered() -> None:
    alone = replace(THERE, gauges={"7": gauge("connected")})
    assert page_of(alone, replace(PLAIN, check="face", stage="begin"), {}).chosen("o") is None
    assert page_of(replace(alone, live=RIM), PLAIN, {}).chosen("b") is None
