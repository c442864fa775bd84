"""In which order inspections were opened, and which results contradict: as the chains on record tell it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from copy import deepcopy
from pathlib import Path

import pytest

from records.order import Order, order_of
from records.store import Store
from tests.parts.issuing import IssuingBay, put_on_record

YEARS = {"A": "2026-05-04T06:00:00.000Z", "B": "2000-01-01T00:00:01.000Z", "C": "2026-06-01T06:00:00.000Z"}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with closing(Store(f"sqlite:///{tmp_path}/records.db")) as store:
        yield store


def lines(order: Order) -> dict[str, list[str]]:
    return {line: [name for name, _ in those] for line, those in order.lines.items()}


def test_the_chain_says_what_came_first_whatever_the_clock_said(store: Store) -> None:
    bay = IssuingBay()
    for name in "AB":
        put_on_record(store, *bay.issue(name, opened=YEARS[name]))
    put_on_record(
        store,
        bay.begin("restored"),
        *bay.issue("C", opened=YEARS["C"]),
        *bay.issue("A", 2, opened=YEARS["A"]),
    )
    assert list(lines(order_of(store)).values()) == [["A", "B", "C"]]
    assert order_of(store).contradicted == {}


def test_of_two_copies_of_a_bay_only_what_they_share_is_in_order(store: Store) -> None:
    """Put back from a copy and not: both go on from one chain, under one key or each under its own."""
    first = IssuingBay()
    shared = first.issue("A")
    copy, other = deepcopy(first), deepcopy(first)
    put_on_record(store, *shared, *first.issue("B"), *copy.issue("C"))
    assert sorted(lines(order_of(store)).values()) == [["A"]]
    put_on_record(store, other.begin("other-key"), *other.issue("D"))
    assert sorted(lines(order_of(store)).values()) == [["A"], ["D"]]


def test_results_that_contradict_are_told_with_who_issued_them(store: Store) -> None:
    """Two bays chose one name: the first that came is on record, the other nowhere but in the chain."""
    bays = IssuingBay("bay-2"), IssuingBay("bay-3")
    for bay in bays:
        put_on_record(
            store,
            *bay.issue("A", verdict="keep" if bay is bays[0] else "replace"),
            *bay.issue(bay.topics.bay),
        )
    assert order_of(store).contradicted == {"A": "greywacke/bay-2, greywacke/bay-3"}
    put_on_record(store, *bays[0].issue("B"))
    again = deepcopy(bays[0])
    the_same = again.begin("restored"), again.record(again.document("B"))
    put_on_record(store, *the_same)
    assert list(order_of(store).contradicted) == ["A"]


def test_a_record_that_somebody_has_spoilt_stops_nothing(store: Store) -> None:
    bay = IssuingBay()
    put_on_record(store, *bay.issue("A"), *bay.issue("B"))
    with store.connected() as connection:
        connection.exec_driver_sql("UPDATE chain SET record = 'spoilt', chain = 'x' WHERE inspection IS NULL")
        connection.exec_driver_sql("UPDATE results SET opened = 'some day' WHERE inspection = 'B'")
    assert [those for those in lines(order_of(store)).values() if those] == [["A"]]
