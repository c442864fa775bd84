"""The records of chains in the store: each once, as it came; what is none is refused."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from records.chained import chain_rows, put_record
from records.errors import RecordRefusedError
from records.store import Store
from tests.records.kept_records import KEPT, RECORD

NOW = datetime(2026, 11, 2, 7, 0, tzinfo=UTC)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with closing(Store(f"sqlite:///{tmp_path}/records.db")) as store:
        yield store


def test_the_same_one_twice_is_one(store: Store) -> None:
    assert [put_record(store, RECORD, NOW) for _ in range(2)] == [True, False]
    (row,) = chain_rows(store)
    assert (row.content, row.is_as_stored) == (RECORD, True)
    assert (row.columns["site"], row.columns["place"], row.columns["inspection"]) == ("greywacke", 0, None)


@pytest.mark.parametrize("said", [b"", b"{}", RECORD[:-1], RECORD.replace(b"bay-2", b"bay-3")])
def test_what_no_bay_signed_is_refused(said: bytes, store: Store) -> None:
    with pytest.raises(RecordRefusedError, match="not a record of a chain"):
        put_record(store, said, NOW)
    assert list(chain_rows(store)) == []


def test_one_kept_of_this_version_holds_its_record(tmp_path: Path) -> None:
    file = tmp_path / "kept.db"
    with closing(sqlite3.connect(file)) as db:
        db.executescript((KEPT / "records-0003.sql").read_text())
    with closing(Store(f"sqlite:///{file}")) as store:
        assert [(row.content, row.is_as_stored) for row in chain_rows(store)] == [(RECORD, True)]
