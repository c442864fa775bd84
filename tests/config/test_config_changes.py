from __future__ import annotations

import copy
from collections.abc import Iterator
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


def test_triggers_come_by_name_and_ranges_and_kinds_of_damper_whole() -> None:
    def change(data: dict[str, Any]) -> None:
        triggers = data["programme"]["trigger"]
        triggers.append({"id": "flood", "text": "The engine stood in water"})
        data["suitability"]["construction"] = {"rolled": {"most_kw": 300.0}}
        data["damper"] = [{"family": "rubber", "rim_mm": 2.03}]

    found = {one.key: one for one in changed(change)}
    assert found["programme.trigger.flood"].new == "The engine stood in water"
    (construction,) = [one for key, one in found.items() if key.startswith("suitability.construction")]
    assert construction.what == "added"
    assert "300.0" in str(construction.new)
    assert found["damper"].what == "changed"
    assert len(found) == 3


@pytest.mark.parametrize("key", ["id", "version", "description"])
def test_its_name_is_told_too(key: str) -> None:
    (change,) = changed(lambda data: data.update({key: "other"}))
    assert (change.key, change.new) == (key, "other")


def leaves(data: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The places of all numbers."""
    if isinstance(data, dict | list):
        for key, value in data.items() if isinstance(data, dict) else enumerate(data):
            yield from leaves(value, (*at, key))
    elif isinstance(data, float):
        yield at


@pytest.mark.slow
def test_no_number_changes_unseen() -> None:
    """A change that is not told would let a method pass for another."""
    whole = EXAMPLE.as_data()
    seen = 0
    for place in leaves(whole):
        data = copy.deepcopy(whole)
        node = data
        for key in place[:-1]:
            node = node[key]
        node[place[-1]] *= 0.999
        if node[place[-1]] == 0.0:
            node[place[-1]] = 1e-4
        found = changes_of(EXAMPLE, Method.model_validate(data))
        assert len(found) == 1, place
        assert found[0].key.split(".")[0] == place[0]
        seen += 1
    assert seen > 100
