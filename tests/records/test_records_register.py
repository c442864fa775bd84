"""The register: what goes in comes out, all of it or nothing."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from records.errors import RecordsUnavailableError
from records.register.columns import Row, TableName
from records.register.merging import Incoming
from records.register.register import Register
from records.store import Store
from tests.parts.postgres import Postgres
from tests.records.test_records_store import document

ENGINE: Row = {"engine": "E-1", "fleet": "truck 14", "rating_kw": 522.0}
DAMPER: Row = {"damper": "D-1", "family": "viscous", "construction": "rolled"}
FITTING: Row = {"engine": "E-1", "date": "2026-01-05", "damper": "D-1"}


def rows(*some: Row) -> list[Incoming]:
    return [Incoming(line, row) for line, row in enumerate(some, start=2)]


def readings(*some: tuple[str, float]) -> list[Incoming]:
    some_rows: list[Row] = [{"engine": "E-1", "date": day, "hours_h": value} for day, value in some]
    return rows(*some_rows)


@pytest.fixture
def register(tmp_path: Path) -> Iterator[Register]:
    register = Register(f"sqlite:///{tmp_path}/records.db")
    register.put("engines", rows(ENGINE, {**ENGINE, "engine": "E-2"}))
    register.put("dampers", rows(DAMPER, {**DAMPER, "damper": "D-2"}))
    yield register
    register.close()


def wrong(
    register: Register, table: TableName, incoming: list[Incoming], *, whole: bool = False
) -> list[str]:
    """What is said; and nothing of it is kept."""
    before = register.load()
    change = register.put(table, incoming, ("impact",), whole=whole)
    assert change.wrong != ()
    assert register.load() == before
    return [f"{one.line}: {one.column}: expected {one.expected}, found {one.found}" for one in change.wrong]


def test_what_goes_in_comes_out_and_again_changes_nothing(register: Register) -> None:
    change = register.put("fittings", rows(FITTING))
    assert (change.new, change.changed, change.same) == ((FITTING,), (), 0)
    before = register.load()
    again = register.put("fittings", rows(FITTING))
    assert (again.new, again.changed, again.removed, again.same) == ((), (), (), 1)
    assert register.load() == before
    assert before["fittings"] == {("E-1", "2026-01-05"): FITTING}


def test_a_row_that_is_there_is_changed_and_a_column_left_out_stays(register: Register) -> None:
    change = register.put("engines", rows({"engine": "E-1", "rating_kw": 480.0}))
    assert [row["rating_kw"] for row in change.changed] == [480.0]
    assert register.load()["engines"]["E-1",] == {**ENGINE, "rating_kw": 480.0}
    register.put("engines", rows({"engine": "E-3"}))
    assert register.load()["engines"]["E-3",] == {"engine": "E-3", "fleet": "", "rating_kw": None}


def test_a_row_twice_in_a_file_is_refused(register: Register) -> None:
    said = wrong(register, "engines", rows(ENGINE, {**ENGINE, "fleet": "truck 15"}))
    assert said == ["3: engine: expected each once (it stands on line 2 already), found E-1 again"]


def test_a_serial_that_the_register_does_not_hold_is_refused(register: Register) -> None:
    said = wrong(register, "fittings", rows({**FITTING, "engine": "E-9"}, {**FITTING, "damper": "D-9"}))
    assert said == [
        "2: engine: expected an engine of the register (import engines first, or mend the serial), found E-9",
        "3: damper: expected a damper of the register (import dampers first, or mend the serial), found D-9",
    ]


def test_a_counter_that_falls_is_refused_within_a_file_and_against_what_is_there(register: Register) -> None:
    said = wrong(register, "readings", readings(("2026-01-05", 1000.0), ("2026-02-02", 100.0)))
    assert said == ["3: hours_h: expected at least 1000, as read on 2026-01-05 (line 2), found 100"]
    assert register.put("readings", readings(("2026-02-02", 1100.0))).wrong == ()
    assert wrong(register, "readings", readings(("2026-03-02", 1099.0))) == [
        "2: hours_h: expected at least 1100, as read on 2026-02-02, found 1099"
    ]
    assert wrong(register, "readings", readings(("2026-01-05", 1101.0))) == [
        "2: hours_h: expected at most 1100, as read on 2026-02-02, found 1101"
    ]
    other: Row = {"engine": "E-2", "date": "2026-03-02", "hours_h": 5.0}
    assert register.put("readings", rows(other)).wrong == ()


def test_a_reading_of_nothing_is_refused(register: Register) -> None:
    said = wrong(register, "readings", rows({"engine": "E-1", "date": "2026-01-05", "hours_h": None}))
    assert said == ["2: distance_km: expected at least one of the two, found nothing, nor hours_h"]


def test_a_damper_is_on_one_engine_a_day(register: Register) -> None:
    said = wrong(register, "fittings", rows(FITTING, {**FITTING, "engine": "E-2"}))
    assert said == [
        "3: damper: expected each damper on one engine a day, found D-1 on E-1 and on E-2 on 2026-01-05"
    ]
    register.put("fittings", rows(FITTING))
    assert register.put("fittings", rows({**FITTING, "engine": "E-2", "date": "2026-02-02"})).wrong == ()


def test_an_event_needs_a_trigger_of_the_methods(register: Register) -> None:
    event: Row = {"engine": "E-1", "date": "2026-02-02", "trigger": "impcat", "note": ""}
    said = wrong(register, "events", rows(event))
    assert said == ["2: trigger: expected one of the method's triggers (impact), found impcat"]


def test_a_whole_table_takes_out_what_it_does_not_hold_unless_others_name_it(register: Register) -> None:
    register.put("fittings", rows(FITTING))
    assert wrong(register, "engines", rows({**ENGINE, "engine": "E-2"}), whole=True) == [
        "None: engines: expected one, as fittings name it, found no row of E-1"
    ]
    change = register.put("engines", rows(ENGINE), whole=True)
    assert [row["engine"] for row in change.removed] == ["E-2"]
    assert list(register.load()["engines"]) == [("E-1",)]


def test_who_only_looks_makes_no_database(tmp_path: Path) -> None:
    with (
        closing(Register(f"sqlite:///{tmp_path}/none.db", create=False)) as register,
        pytest.raises(RecordsUnavailableError, match="there is no such file"),
    ):
        register.load()
    assert list(tmp_path.iterdir()) == []


def put_many(register: Register, store: Store) -> None:
    """Two who import at once, while a bay stores results."""

    def work(who: int) -> int:
        if who == 2:
            return sum(store.put(document(f"GQ-{number}")) for number in range(10))
        day = [f"2026-02-{number:02}" for number in range(1, 11)]
        return sum(
            len(register.put("readings", readings((one, 10.0 + number))).new)
            for number, one in enumerate(day)
        )

    with ThreadPoolExecutor(3) as pool:
        first, second, stored = pool.map(work, range(3))
    assert (first + second, stored) == (10, 10)
    assert len(register.load()["readings"]) == 10


@pytest.mark.slow
def test_two_who_import_at_once_put_each_row_once(register: Register, tmp_path: Path) -> None:
    with closing(Store(f"sqlite:///{tmp_path}/records.db")) as store:
        put_many(register, store)


@pytest.mark.heavy
def test_the_register_on_postgresql(postgres: Postgres) -> None:
    url = postgres.make("register")
    with closing(Register(url)) as register, closing(Store(url)) as store:
        register.put("engines", rows(ENGINE))
        register.put("dampers", rows(DAMPER))
        register.put("fittings", rows(FITTING))
        register.put("engines", rows({**ENGINE, "rating_kw": 480.0}))  # which a fitting names
        assert register.load()["engines"]["E-1",]["rating_kw"] == 480.0
        put_many(register, store)
        change = register.put("readings", readings(("2026-02-10", 19.0)), whole=True)
        assert (len(change.removed), change.same) == (9, 1)
