from __future__ import annotations

import copy
from typing import Any

import pytest

from config.changes import Change, changes_of
from config.method import Method
from tests.grading.samples import DATA, EXAMPLE


def changed(change: Any) -> tuple[Change, ...]:
    """What is said where the example method's data were changed so."""
    data = copy.deepcopy(DATA)
    change(data)
    return changes_of(EXAMPLE, Method.model_validate(data))


def test_the_same_method_has_no_changes() -> None:
    assert changes_of(EXAMPLE, EXAMPLE) == ()


def test_a_value_comes_with_its_unit_and_what_it_means() -> None:
    (change,) = changed(lambda data: data["rim"].update(limit_mm=0.26))
    assert change == Change(
        "rim.limit_mm",
        "changed",
        0.28,
        0.26,
        "mm",
        "Run-out of the rim. Largest total indicator reading of the surface itself.",
    )


def test_a_key_left_out_is_its_default() -> None:
    assert changed(lambda data: data["rim"].pop("agree_u")) == ()
    (change,) = changed(lambda data: data["rim"].update(radius_mm=150.0))
    assert (change.key, change.what, change.new) == ("rim.radius_mm", "added", 150.0)


def test_a_table_within_tables_is_walked_into() -> None:
    (change,) = changed(lambda data: data["face"]["sweep"]["signs"].update(lone_mm=0.01))
    assert (change.key, change.old, change.new) == ("face.sweep.signs.lone_mm", 0.006, 0.01)
    assert change.meaning.startswith("Wobble of the front face. When a sweep counts. The evidence ")
    assert change.meaning.endswith(" And by this much.")


def test_checks_and_items_come_and_go_by_name() -> None:
    def change(data: dict[str, Any]) -> None:
        data["required"]["bench"].remove("warm-leak")
        items = data["observed"]["visual"]["item"]
        items[:] = [item for item in items if item["id"] != "hub"]
        items.append({"id": "events", "text": "No impact or fire since it was fitted"})
        items[0]["text"] = "Dry"
        del data["observed"]["warm-leak"]

    warm = ("temperature", "soak", "joint", "welds", "plugs")
    told = [(one.key, one.what) for one in changed(change)]
    assert told == [
        ("required.bench", "removed"),
        ("observed.visual.oil.text", "changed"),
        ("observed.visual.hub", "removed"),
        ("observed.visual.events", "added"),
        *[(f"observed.warm-leak.{name}", "removed") for name in warm],
    ]


def test_another_order_is_said_as_that() -> None:
    def change(data: dict[str, Any]) -> None:
        data["observed"]["visual"]["item"].reverse()
        data["required"]["bench"].reverse()

    first, second = changed(change)
    assert (first.key, first.what) == ("required.bench", "changed")
    assert first.meaning.endswith("(their order)")
    assert (second.key, second.what) == ("observed.visual", "changed")


def test_cautions_come_and_go_line_by_line() -> None:
    def change(data: dict[str, Any]) -> None:
        data["cautions"]["lifts"] = ["Nobody turns it."]
        del data["cautions"]["unlock"]

    told = [(one.key, one.what, one.old or one.new) for one in changed(change)]
    assert told == [
        ("cautions.lifts", "removed", DATA["cautions"]["lifts"][0]),
        ("cautions.lifts", "added", "Nobody turns it."),
        ("cautions.unlock", "removed", DATA["cautions"]["unlock"][0]),
    ]


def test_an_optional_table_comes_whole() -> None:
    (change,) = changed(lambda data: data["thickness"].update(bulge={"rim_thickness_mm": 40.0}))
    assert (change.key, change.what) == ("thickness.bulge", "added")
    assert change.new["rim_thickness_mm"] == 40.0


@pytest.mark.parametrize("key", ["id", "version", "description"])
def test_its_name_is_told_too(key: str) -> None:
    (change,) = changed(lambda data: data.update({key: "other"}))
    assert (change.key, change.new) == (key, "other")
