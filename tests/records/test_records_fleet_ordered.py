"""In which order a fleet's bays opened their inspections, by the chains that writers filed."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy

import pytest

from records.fleet.ordered import order_of_fleet
from tests.parts.issuing import IssuingBay
from tests.parts.postgres import Postgres
from tests.records.filed import Database, database

pytestmark = pytest.mark.slow

YEARS = {"A": "2026-05-04T06:00:00.000Z", "B": "2000-01-01T00:00:01.000Z", "C": "2026-06-01T06:00:00.000Z"}


@pytest.fixture
def db(postgres: Postgres) -> Iterator[Database]:
    with database(postgres) as made:
        yield made


def lines(db: Database) -> list[list[str]]:
    return sorted([name for name, _ in those] for those in order_of_fleet(db.fleet).lines.values() if those)


def test_the_chain_says_what_came_first_whatever_the_clock_said(db: Database) -> None:
    bay = IssuingBay()
    for name in "AB":
        db.filing().file(bay.issue(name, opened=YEARS[name]))
    db.filing().file([bay.begin("restored"), *bay.issue("C", opened=YEARS["C"])])
    assert lines(db) == [["A", "B", "C"]]
    assert order_of_fleet(db.fleet).contradicted == {}


def test_what_has_not_come_from_another_writer_yet_puts_nothing_in_a_wrong_place(db: Database) -> None:
    """Two share a bay's messages: A is opened, B is opened, A is closed; A's first waits with the other."""
    bay = IssuingBay()
    first, second = bay.issue("A", opened=YEARS["A"]), bay.issue("B", opened=YEARS["B"])
    begun = first[1]
    db.filing().file([begun, *second, *bay.issue("A", 2, opened=YEARS["A"])])
    assert lines(db) == [["B"]]
    db.filing().file(first)
    assert lines(db) == [["A", "B"]]


def test_of_two_copies_of_a_bay_only_what_they_share_is_in_order(db: Database) -> None:
    first = IssuingBay()
    shared = first.issue("A")
    copy = deepcopy(first)
    db.filing().file([*shared, *first.issue("B")])
    db.filing().file(copy.issue("C"))
    assert lines(db) == [["A"]]


def test_a_name_that_two_bays_chose_has_no_place(db: Database) -> None:
    one, other = IssuingBay("bay-2"), IssuingBay("bay-3")
    db.filing().file([*one.issue("A"), *one.issue("B"), *other.issue("A")])
    assert lines(db) == [["B"]]


def test_results_of_one_inspection_that_a_bay_and_its_copy_issued_contradict(db: Database) -> None:
    bay = IssuingBay()
    db.filing().file(bay.issue("A"))
    copy = deepcopy(bay)
    db.filing().file(bay.issue("B"))
    db.filing().file([copy.begin("restored"), *copy.issue("B", verdict="replace")])
    assert order_of_fleet(db.fleet).contradicted == {"B": "greywacke/bay-2"}


@pytest.mark.parametrize("why", ["", "restored"])
def test_what_a_bay_and_its_copy_issued_under_one_name_ended_in_nothing(why: str, db: Database) -> None:
    """Whether the copy knows that it is one and begins a chain, or goes on with the same: a fork, of which
    the second record is refused."""
    bay = IssuingBay()
    db.filing().file(bay.issue("A"))
    copy = deepcopy(bay)
    db.filing().file([*bay.issue("B"), *bay.issue("C")])
    db.filing().file([*([copy.begin(why)] if why else []), *copy.issue("B", verdict="replace")])
    assert order_of_fleet(db.fleet).contradicted == {"B": "greywacke/bay-2"}
    ended = [("A", "keep"), ("B", None), ("C", "keep")]
    for view in ("fleet_latest", "fleet_latest_checks", "fleet_checks"):
        assert db.rows(f"SELECT DISTINCT inspection, ended FROM {view} ORDER BY 1") == ended
