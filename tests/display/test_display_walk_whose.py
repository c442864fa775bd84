"""What a page of the walk shows is of the inspection that it names, and of no sweep before the last one."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, cast

import pytest

from contract.live import Live
from display.walk.bay import BayAtHand
from display.walk.course import page_of
from display.walk.place import Place
from display.walk.view import GRADING_MAX_S, Ended, View
from display.walk.walker import Walker
from display.words import Words
from tests.display.pages import NAME, PLAIN, result

DONE = {
    "visual": {"outcome": "good", "reason": "¶", "items": []},
    "rim": {"outcome": "within", "reason": "¶", "limit_mm": 0.28, "true_tir_mm": 0.1, "u_expanded_mm": 0.01},
}
KEPT = result(checks=DONE, verdict="keep")
SWEPT = View(
    "1/2", live=Live(inspection=NAME), result=KEPT, ended=Ended("rim", "complete", None, KEPT.revision)
)
OTHER = "15"


class Bay:
    """A bay that says what it is told to."""

    def __init__(self, view: View) -> None:
        self.said = view

    def view(self) -> View:
        return self.said


def walker(bay: Bay, signer: str = "R. Example") -> Walker:
    return Walker(
        cast(BayAtHand, bay),
        signer=signer,
        keep=None,
        spawn=lambda work: work.close(),
        on_leave=lambda: None,
        on_change=lambda: None,
    )


@pytest.mark.parametrize("stage", ["list", "close"])
@pytest.mark.parametrize("ended_s", [0.5, GRADING_MAX_S + 1])
def test_while_a_sweep_is_worked_out_no_page_tells_what_was_found_before(stage: Any, ended_s: float) -> None:
    page = page_of(replace(SWEPT, ended_s=ended_s), replace(PLAIN, stage=stage), {})
    said = " ".join((*page.says, *page.rows, *(choice.label for choice in page.choices)))
    assert "KEEP" not in said
    assert "within" not in said
    assert page.tells not in ("keep", "within")
    assert [choice.label for choice in page.choices if choice.tells in ("keep", "within")] == []
    graded = replace(SWEPT, result=KEPT.model_copy(update={"revision": 4}))
    assert page_of(graded, replace(PLAIN, stage=stage), {}).tells == "keep"


def closed(**more: Any) -> View:
    return View("1/2", live=Live(), result=result(state="closed", checks=DONE, **more))


def test_who_signs_reads_of_which_engine_and_damper_it_is() -> None:
    """Whoever comes the next morning has joined nothing: no other part of the page says it."""
    page = page_of(closed(engine={"serial": "E-1"}, damper={"serial": "D-2"}), Place(), {})
    assert "Engine E-1, damper D-2." in page.says


@pytest.mark.parametrize("inspection", [None, NAME])
def test_a_decision_that_was_begun_for_one_inspection_is_not_offered_for_another(
    inspection: str | None,
) -> None:
    """Another screen has signed it meanwhile, and closed the next one."""
    bay = Bay(closed())
    walk = walker(bay)
    walk._place = Place(inspection=inspection)
    assert walk.show().name.startswith("sign ")
    walk.press("d")
    assert walk.show().name.startswith("decide ")
    walk.press("1")
    assert walk.show().name.startswith("remark ")
    bay.said = closed(inspection=OTHER)
    assert walk.show().name.startswith(f"sign {OTHER} ")


def test_what_was_typed_for_one_inspection_does_not_stand_in_the_next() -> None:
    """A note on a leak, a remark, a signer's name: of another damper, or of yesterday."""
    bay = Bay(replace(SWEPT, ended=None, result=result()))
    walk = walker(bay)
    walk.show()
    walk.typed |= {"open.engine": "E-1", "note.visual.leak": "oil", "sign.remark": "dented", "sign.name": "A"}
    bay.said = replace(bay.said, live=Live())  # as between two messages
    walk.show()
    assert walk.typed["note.visual.leak"] == "oil"
    bay.said = closed(inspection=OTHER)
    walk.show()
    assert walk.of == OTHER
    assert walk.typed == {"open.engine": "E-1", "sign.name": "R. Example"}


def test_a_question_is_not_left_in_the_language_of_before() -> None:
    bay = Bay(replace(SWEPT, ended=None))
    walk = walker(bay)
    walk._place = replace(PLAIN, stage="list")
    walk.show()
    walk.press("x")
    assert walk.show().title == "are you sure?"
    bay.said = replace(bay.said, words=Words("de"))
    assert walk.show().name == "list"
    assert not walk.is_asked
