"""The table of what there is to do, against the names that commands, methods and results are typed by."""

from __future__ import annotations

from typing import get_args

import pytest
from pydantic import TypeAdapter

from contract.commands import RecordCheck
from contract.kinds import KINDS, named, takes
from contract.result import Checks, ObservedCheck, SurfaceCheck, ThicknessCheck
from contract.terms import CheckName, ObservedName, Surface, SweptName
from grading.assess import JUDGES


def test_every_name_that_is_typed_is_in_the_table_and_in_its_order() -> None:
    assert get_args(CheckName) == tuple(name for name, kind in KINDS.items() if kind.is_check)
    assert get_args(ObservedName) == named("items")
    assert get_args(Surface) == named("turn")
    assert set(get_args(SweptName)) == set(named("turn", "places", "lifts"))


def test_the_result_has_a_place_for_each_check_of_what_it_gives() -> None:
    parts = {"turn": SurfaceCheck, "places": ThicknessCheck, "items": ObservedCheck}
    fields = {field.alias or name: field.annotation for name, field in Checks.model_fields.items()}
    assert fields.pop("suitability") == ObservedCheck | None  # which nobody takes: it follows from the rest
    assert fields == {name: parts[kind.takes] | None for name, kind in KINDS.items() if kind.is_check}


def test_whatever_a_check_takes_is_judged() -> None:
    assert set(JUDGES) == {kind.takes for kind in KINDS.values() if kind.is_check}


@pytest.mark.parametrize("name", KINDS)
def test_what_there_is_can_be_asked_for_and_kept(name: str) -> None:
    TypeAdapter(RecordCheck).validate_python(name)
    if takes(name) == "items":
        TypeAdapter(ObservedName).validate_python(name)
    else:
        TypeAdapter(SweptName).validate_python(name)
