"""The walk where only a turn's start and end are pressed: what is said, what is asked, how it is answered."""

from __future__ import annotations

from dataclasses import replace

from contract.live import Live
from display.walk.course import page_of
from display.walk.page import Send, Turn
from display.walk.view import View
from display.walk.words import DWELLED
from tests.display.pages import CHECKS, NAME, PLAIN, gauge, result

ASKS = {"mark_deg": 240.0, "stops": [{"at_s": 43.2, "lasted_s": 6.5}, {"at_s": 125.0, "lasted_s": 3600.0}]}
RIM = {"outcome": "invalid", "reason": "which stop was it?", "limit_mm": 0.28, "asks": ASKS}
THERE = View("1/2", live=Live(inspection=NAME), result=result(checks={**CHECKS, "rim": RIM}))
AT_RIM = replace(PLAIN, check="rim")


def test_a_key_says_which_stop_it_was() -> None:
    page = page_of(THERE, AT_RIM, {})
    assert "Which stop was at the mark 240°?" in page.says
    assert [choice.label for choice in page.choices[:2]] == [
        "the one at 0:43, 0:06 long",
        "the one at 2:05, 60:00 long",
    ]
    choice = page.chosen("2")
    assert choice is not None
    answer = choice.act({})
    assert isinstance(answer, Send)
    assert (answer.name, answer.settles) == ("mark", True)
    assert answer.arguments == {"check": "rim", "angle_deg": 240.0, "at_s": 125.0}


def test_who_does_not_know_measures_again_and_nothing_is_chosen_by_itself() -> None:
    page = page_of(THERE, AT_RIM, {})
    assert page.main is None
    again = page.chosen("r")
    assert again is not None
    turn = again.act({})
    assert isinstance(turn, Turn)
    assert turn.place.stage == "begin"
    assert page_of(THERE, turn.place, {}).name.startswith("begin rim")


def test_a_turn_by_dwells_says_what_to_press() -> None:
    live = Live(inspection=NAME, check="rim", gauge="7", angle_source="dwells", next_mark_deg=360.0)
    page = page_of(replace(THERE, live=live, gauges={"7": gauge("connected")}), AT_RIM, {})
    assert page.says == (DWELLED,)
    assert page.main is not None
    assert page.main.label == "the crank stands at 0°"
