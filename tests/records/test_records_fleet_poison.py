"""Messages that would stop a writer: each is refused and kept, what comes with it is filed."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, date, datetime
from typing import Any

import psycopg
import pytest

from contract.chain import RECORD_SCHEMA
from records.fleet.held import at_once
from records.fleet.packing import Column, Kind, Packing, packed
from tests.parts.issuing import TIME, IssuingBay, Message
from tests.parts.postgres import Postgres
from tests.records.filed import Database, database

pytestmark = pytest.mark.slow

LONG = "".join(chr(0x4E00 + n * 7919 % 20_000) for n in range(8_000))
"""Letters that hardly compress: more than an index holds, and less than a topic may."""


@pytest.fixture
def db(postgres: Postgres) -> Iterator[Database]:
    with database(postgres) as made:
        yield made


def result(inspection: str = "truck-66", **changed: Any) -> Message:
    topic, document = IssuingBay("bay-6").document(inspection)
    return topic, json.dumps(json.loads(document) | changed).encode()


def record(**changed: Any) -> Message:
    """Of a bay that signs whatever it likes."""
    bay = IssuingBay("bay-6")
    fields = {
        "schema": RECORD_SCHEMA, "index": 1, "previous": "a" * 64, "kind": "result", "inspection": "truck-66",
        "revision": 1, "document_sha256": "b" * 64, "later": False, "site": "greywacke", "bay": "bay-6",
        "chain": "c" * 16, "time": TIME,
    }  # fmt: skip
    return bay.topics.chain, bay.signer.signed(fields | changed)


@pytest.mark.parametrize(
    ("poison", "reason"),
    [
        (result(opened="2026-11-26T05:20:41"), "malformed"),
        (result(closed="2026-11-26T05:20:41"), "malformed"),
        (result(LONG), "unfit"),
        (("ringtrue/1/" + LONG * 2 + "/bay-6/chain", b"nonsense"), "malformed"),
        (result(engine={"serial": LONG}), "unfit"),
        (record(inspection="a\0b"), "unfit"),
        (record(time="a\0b"), "unfit"),
        (record(index=2**40), "unfit"),
    ],
    ids=["opened", "closed", "name", "topic", "serial", "nul", "nul-time", "place"],
)
def test_poison_is_refused_and_holds_up_nothing_else(poison: Message, reason: str, db: Database) -> None:
    good = IssuingBay().issue("truck-14")
    filed = db.filing().file([good[0], poison, *good[1:]])
    assert (filed.results, filed.records, [one.reason for one in filed.refused]) == (1, 2, [reason])
    assert [row[0] for row in db.rows("SELECT reason FROM fleet_refused")] == [reason]
    again = db.filing().file([poison])
    assert (again.refused, [one.reason for one in again.declined]) == ([], [reason])


def test_six_letters_that_look_like_none_are_no_mistake(db: Database) -> None:
    topic, document = IssuingBay().document("truck-14")
    said = document.replace(b"GQ-E-2207", rb"GQ\\u0000")
    assert db.filing().file([(topic, said)]).results == 1
    assert db.rows("SELECT engine FROM fleet_results") == [(r"GQ\u0000",)]


def test_a_copy_that_somebody_else_sent_does_not_hide_that_a_result_is_missing(db: Database) -> None:
    document, *others = IssuingBay().issue("truck-14")
    elsewhere = document[0].replace("bay-2", "bay-3"), document[1]
    db.filing().file([elsewhere, *others])
    assert db.refused() == [("topic", elsewhere[0])]
    assert db.rows("SELECT inspection, revision FROM fleet_missing") == [("truck-14", 1)]


COLUMNS: list[tuple[Kind, list[Any]]] = [
    ("text", ["", "ß 漢 🚚", None, "{,\\\"NULL"]), ("integer", [0, -1, 2**31 - 1, None]), ("text", []),
    ("bigint", [2**63 - 1, -(2**63)]), ("double precision", [0.1, -1e300, None]), ("boolean", [True, False]),
    ("date", [date(1, 1, 1), date(9999, 12, 31), date(2026, 11, 26)]), ("bytea", [b"", b"\0\xff", None]),
    ("timestamptz", [datetime(1, 1, 2, tzinfo=UTC), datetime(2026, 11, 26, 5, 20, 41, 999_999, UTC)]),
    ("text", [None, None]),
]  # fmt: skip


def test_the_server_reads_columns_as_they_are_packed(db: Database) -> None:
    for kind, values in COLUMNS:
        with db.fleet.transaction() as connection:
            ((found,),) = at_once(connection, (f"SELECT %(it)s::{kind}[]", {"it": packed(kind, values)}))[
                0
            ].rows
        assert found == values


@pytest.mark.parametrize(("kind", "value"), [("integer", 2**31), ("text", "\ud800"), ("bigint", 2**63)])
def test_what_is_none_of_its_kind_is_the_rows_fault(kind: Kind, value: Any) -> None:
    with pytest.raises(psycopg.DataError, match=f"no {kind}"):
        packed(kind, [value])


def test_the_server_reads_rows_as_they_are_packed(db: Database) -> None:
    """Each value twice: the second time it is remembered; by itself, and with others."""
    kinds: list[tuple[str, Kind]] = [(f"c{n}", kind) for n, (kind, _) in enumerate(COLUMNS)]
    values = {f"c{n}": [None, *said, *said] for n, (_, said) in enumerate(COLUMNS)}
    arrays: tuple[list[Any], list[Any]] = (
        [None, [], ["rim", None, "ß"], ["rim", None, "ß"]],
        [None, [0.5, None], [], [0.5]],
    )
    kinds += [("texts", "text[]"), ("figures", "double precision[]")]
    values |= dict(zip(("texts", "figures"), arrays, strict=True))
    length = max(map(len, values.values()))
    rows = [tuple((values[name] + [None] * length)[n] for name, _ in kinds) for n in range(length)]
    columns = ", ".join(f"{name} {kind}" for name, kind in kinds)
    alone: list[Column] = [kind for _, kind in kinds]
    together: list[Column] = [tuple(kind for _, kind in kinds[: len(COLUMNS)]), *alone[len(COLUMNS) :]]
    with db.fleet.transaction() as connection:
        driver: Any = connection.connection.driver_connection
        driver.execute(f"CREATE TEMPORARY TABLE packed ({columns})")
        grouped = [(row[: len(COLUMNS)], *row[len(COLUMNS) :]) for row in rows]
        for what, said in ((alone, rows), (together, [*grouped, *grouped])):
            with driver.cursor().copy("COPY packed FROM STDIN (FORMAT binary)") as copy:
                copy.write(Packing.BEGIN + Packing(what).rows(said) + Packing.END)
        assert driver.execute("SELECT * FROM packed").fetchall() == rows * 3
