"""Parquet is read back by the engine that fleets query it with."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import duckdb
import pytest

from records.errors import RecordRefusedError
from records.exports.parquet import as_parquet
from records.exports.table import COLUMNS, rows
from records.exports.texts import as_csv
from tests.records.reported import whole


def read(file: Path, query: str) -> list[tuple[Any, ...]]:
    with duckdb.connect() as database:
        database.execute("SET TimeZone = 'UTC'")
        return database.execute(query, [str(file)]).fetchall()


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "quarry.parquet"


def test_every_cell_of_the_table_is_there_with_its_type(file: Path) -> None:
    file.write_bytes(as_parquet([whole()]))
    found = read(file, "SELECT * FROM read_parquet(?)")
    expected = list(rows([whole()]))
    assert len(found) == len(expected) == 7
    for got, row in zip(found, expected, strict=True):
        for column, cell, wanted in zip(COLUMNS, got, row, strict=True):
            if column.kind == "moment" and wanted is not None:
                wanted = datetime.fromisoformat(wanted)
            assert cell == wanted, column.name


def test_a_fleet_asks_it_for_figures(file: Path) -> None:
    file.write_bytes(as_parquet([whole(), whole()]))
    query = (
        'SELECT "check", count(*), max(true_tir_mm), min(opened) FROM read_parquet(?) '
        "WHERE outcome = 'within' AND true_tir_mm > 0.15 GROUP BY ALL"
    )
    assert read(file, query) == [("rim", 2, 0.186, datetime(2026, 11, 26, 4, 58, 16, 123000, tzinfo=UTC))]


def test_of_nothing_there_is_a_table_without_rows(file: Path) -> None:
    file.write_bytes(as_parquet([]))
    assert read(file, "SELECT count(*) FROM read_parquet(?)") == [(0,)]
    assert [name for name, *_ in read(file, "DESCRIBE SELECT * FROM read_parquet(?)")] == [
        column.name for column in COLUMNS
    ]


def test_what_is_of_another_kind_in_a_newer_document_is_no_cell(file: Path) -> None:
    result = json.loads(whole())
    result["opened"] = "in the morning"
    result["checks"] = {"rim": {"outcome": "within", "tir_mm": "0.19 mm", "readings": {"all": 3}}}
    file.write_bytes(as_parquet([json.dumps(result).encode()]))
    query = "SELECT opened, tir_mm, readings, outcome FROM read_parquet(?)"
    assert read(file, query) == [(None, None, None, "within")]


def test_what_is_no_number_is_no_cell(file: Path) -> None:
    """NaN and infinity would be the greatest of all that a fleet asks for."""
    result = json.loads(whole())
    result["checks"] = {"rim": {"tir_mm": "NaN", "true_tir_mm": "inf", "readings": True, "p_over": math.inf}}
    file.write_bytes(as_parquet([json.dumps(result).encode()]))
    query = "SELECT tir_mm, true_tir_mm, readings, p_over FROM read_parquet(?)"
    assert read(file, query) == [(None, None, None, None)]


@pytest.mark.parametrize("spoilt", [b"{", b"[]", whole().replace(b'"checks":{', b'"checks":1,"once":{')])
def test_a_table_without_one_that_cannot_be_read_is_none(spoilt: bytes) -> None:
    for make in (as_parquet, lambda documents: list(as_csv(documents))):
        with pytest.raises(RecordRefusedError):
            make([whole(), spoilt])
