"""The example method states every key that decides, and where each value comes from."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
from pydantic import BaseModel

from config.cautions import USUAL
from config.files import shipped
from config.method import Bulge, Method

TEXT = shipped("methods", "example").read_text()
DATA = tomllib.loads(TEXT)
MARKS = (
    "common practice, no source",
    "our own choice",
    "public military technical manual, crankshaft damper section",
    "ISO 3452",
)
# What names the file.
NAMES = ("schema", "id", "version", "description")
# What only the maker states; the file shows it as a comment.
MAKERS = (
    ("thickness", "bulge"),
    ("intervals", "valve_set_distance_km"),
    ("intervals", "valve_set_hours_h"),
    ("suitability", "construction"),
)
# What is not stated besides: the rim's radius, which nothing needs, and the guard factor, which a probability
# rules out.
LEFT_OUT = (*MAKERS, ("rim", "radius_mm"), ("decision", "guard_r"), ("damper",), ("wording",))


def tables(model: type[BaseModel], *path: str) -> Iterator[tuple[tuple[str, ...], str]]:
    """Every key of a model and of the tables in it, as (table, key)."""
    for name, field in model.model_fields.items():
        key = field.alias or name
        inner = field.annotation
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            yield from tables(inner, *path, key)
        else:
            yield path, key


def stated(path: tuple[str, ...]) -> dict[str, Any]:
    found: dict[str, Any] = DATA
    for key in path:
        found = found[key]
    return found


@pytest.mark.parametrize(("table", "key"), list(tables(Method)))
def test_every_key_of_the_model_is_stated(table: tuple[str, ...], key: str) -> None:
    assert (*table, key) in LEFT_OUT or key in stated(table)


def test_what_only_a_maker_states_is_shown_as_a_comment() -> None:
    for key in (*Bulge.model_fields, *(key for table, key in MAKERS if table != "thickness")):
        assert re.search(rf"^# {key} = ", TEXT, re.MULTILINE)


def test_what_is_stated_is_what_holds_where_nothing_is_stated() -> None:
    """So that a journal of a method that did not know a key yet is graded as it was."""
    for name in ("rim", "face"):
        stripped = {k: v for k, v in DATA[name].items() if k in ("limit_mm", "radius_mm")}
        older = Method.model_validate({**DATA, name: stripped})
        assert older == Method.model_validate(DATA)
    kept = {k: v for k, v in DATA["decision"].items() if k in ("rule", "probability")}
    of_before = {key: value for key, value in DATA.items() if key not in ("lifts", "marks")}
    assert Method.model_validate({**of_before, "decision": kept}) == Method.model_validate(DATA)


def test_a_method_without_a_programme_has_the_one_stated_and_no_triggers() -> None:
    silent = Method.model_validate({k: v for k, v in DATA.items() if k not in ("programme", "suitability")})
    stated_too = Method.model_validate(DATA)
    assert silent.suitability == stated_too.suitability
    assert silent.programme == stated_too.programme.model_copy(update={"trigger": ()})


def test_the_cautions_stated_are_the_usual_ones() -> None:
    """So that a method which says nothing of a step shows the same there."""
    method = Method.model_validate(DATA)
    assert method.cautions == dict(USUAL)
    silent = Method.model_validate({**DATA, "cautions": {"rim": []}})
    assert silent.cautions_at("rim") == ()
    assert silent.cautions_at("face") == USUAL["face"]


def test_every_value_says_where_it_comes_from() -> None:
    values = [
        line for line in TEXT.splitlines() if re.match(r"[\w-]+ = |  \{ ", line) and not line.endswith("= [")
    ]
    unmarked = [line for line in values if not any(mark in line.partition("#")[2] for mark in MARKS)]
    assert [line.split(" = ")[0] for line in unmarked] == list(NAMES)
    assert len(values) > 150
