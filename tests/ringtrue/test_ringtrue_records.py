"""`ringtrue records verify`: whatever was altered is found, and the first break is the one that is named."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chain.signing import read_record
from records.store import Store
from ringtrue.cli import main
from tests.chain.chained_bay import ChainedBay
from tests.chain.signers import signer
from tests.records.test_records_store import document
from tests.ringtrue.verified_bay import LAST, broken, change, copy_of, delivered, place_of, verify


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> ChainedBay:
    return delivered(tmp_path_factory.mktemp("whole"))


@pytest.fixture
def bay(whole: ChainedBay, tmp_path: Path) -> ChainedBay:
    return copy_of(whole, tmp_path / "bay")


def test_a_whole_one_is_sound(bay: ChainedBay, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["records", "verify", "--config", str(bay.config)]) == 0
    assert capsys.readouterr().out == "greywacke/bay-2: sound: 7 records, 6 results\n"
    assert main(["records", "verify", "--records", bay.url]) == 0
    assert capsys.readouterr().out == "greywacke/bay-2: sound: 7 records, 6 results\n"


def test_where_it_cannot_look_nothing_is_broken(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["records", "verify", "--config", str(tmp_path / "none.toml")]) == 3
    assert "none.toml" in capsys.readouterr().err


def test_what_waits_for_the_records_is_no_break(bay: ChainedBay) -> None:
    bay.issue(("i-4", 1))
    assert verify(bay)[0] == 0
    bay.deliver()
    assert verify(bay)[0] == 0


@pytest.mark.parametrize("kept_in", ["journal", "records"])
def test_the_first_break_is_named_in_one_line(
    kept_in: str, bay: ChainedBay, capsys: pytest.CaptureFixture[str]
) -> None:
    file, table = (bay.journal, "result") if kept_in == "journal" else (bay.records, "results")
    for inspection, revision in (("i-3", 2), ("i-2", 1)):
        kept = "CAST(replace(CAST(document AS TEXT), 'keep', 'kept') AS BLOB)"
        where = "WHERE inspection = ? AND revision = ?"
        change(file, f"UPDATE {table} SET document = {kept} {where}", inspection, revision)
    assert main(["records", "verify", "--config", str(bay.config)]) == 1
    (line,) = capsys.readouterr().out.splitlines()
    chain = bay.chain()[0]["chain"]
    assert line.startswith(
        f"greywacke/bay-2, record 3 of chain {chain}, i-2 revision 1, in the {kept_in}: altered document: "
    )


@pytest.mark.parametrize("put", ["CAST({0} AS TEXT) || ' '", "''", "1234567890123", "CAST(x'ff00' AS TEXT)"])
@pytest.mark.parametrize(
    "place",
    [("journal", "result", "document"), ("journal", "chain", "record"),
     ("records", "results", "document"), ("records", "chain", "record")],
)  # fmt: skip
def test_what_an_editor_of_databases_leaves_is_a_break_too(
    place: tuple[str, str, str], put: str, bay: ChainedBay
) -> None:
    """Not bytes any more but text, or a number: SQLite keeps either in a column of bytes."""
    kept_in, table, column = place
    file = bay.journal if kept_in == "journal" else bay.records
    change(
        file, f"UPDATE {table} SET {column} = {put.format(column)} WHERE inspection = 'i-3' AND revision = 3"
    )
    found = broken(bay)
    assert (found["kept_in"], found["inspection"], found["revision"]) == (kept_in, "i-3", 3)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    place=st.sampled_from([("journal", "result", "document"), ("journal", "chain", "record"),
                     ("records", "results", "document"), ("records", "chain", "record")]),
    number=st.integers(0, LAST), byte=st.integers(0, 10_000), by=st.integers(1, 255),
)  # fmt: skip
@pytest.mark.slow
def test_any_altered_byte_is_found_where_it_is(
    place: tuple[str, str, str], number: int, byte: int, by: int, whole: ChainedBay, tmp_path: Path
) -> None:
    bay = copy_of(whole, tmp_path / "altered")
    kept_in, table, column = place
    file = bay.journal if kept_in == "journal" else bay.records
    index = max(number, 1) if column == "document" else number
    said = bay.chain()[index]
    key = "inspection IS ? AND revision IS ?"
    with closing(sqlite3.connect(file)) as db, db:
        named = said.get("inspection"), said.get("revision")
        ((content,),) = db.execute(f"SELECT {column} FROM {table} WHERE {key}", named).fetchall()
        altered = bytearray(content)
        altered[byte % len(altered)] ^= by
        db.execute(f"UPDATE {table} SET {column} = ? WHERE {key}", (bytes(altered), *named))
    found = broken(bay)
    what = "altered-document" if column == "document" else "altered-record"
    assert (found["what"], found["kept_in"], found["index"]) == (what, kept_in, index)
    assert (found["inspection"], found["revision"]) == named


COLUMNS = {
    "results": ("inspection", "revision", "state", "site", "bay", "engine", "damper", "verdict", "opened",
                "sha256"),
    "chain": ("sha256", "site", "bay", "chain", "place", "inspection", "revision"),
}  # fmt: skip


@pytest.mark.parametrize(("table", "column"), [(t, c) for t, all_ in COLUMNS.items() for c in all_])
def test_an_altered_column_of_the_records_is_found(table: str, column: str, bay: ChainedBay) -> None:
    value: object = 77 if column in ("revision", "place") else "another"
    change(bay.records, f"UPDATE {table} SET {column} = ? WHERE inspection = 'i-2'", value)
    found = broken(bay)
    assert found["index"] == place_of(bay, "i-2", 1)
    assert found["kept_in"] == "records"


@pytest.mark.parametrize("column", ["chain", "inspection", "revision"])
def test_an_altered_column_of_the_journals_chain_is_found(column: str, bay: ChainedBay) -> None:
    change(bay.journal, f"UPDATE chain SET {column} = 77 WHERE inspection = 'i-2'")
    found = broken(bay)
    assert (found["index"], found["kept_in"]) == (3, "journal")


@pytest.mark.parametrize("index", range(LAST + 1))
@pytest.mark.parametrize("kept_in", ["journal", "records"])
def test_a_record_that_is_gone_is_missed(kept_in: str, index: int, bay: ChainedBay) -> None:
    if kept_in == "journal":
        change(bay.journal, "DELETE FROM chain WHERE n = ?", index + 1)
    else:
        change(bay.records, "DELETE FROM chain WHERE place = ?", index)
    found = broken(bay)
    assert (found["what"], found["kept_in"], found["index"]) == ("missing-record", kept_in, index)


@pytest.mark.parametrize(("kept_in", "table"), [("journal", "result"), ("records", "results")])
def test_a_result_that_is_gone_or_was_put_in_is_found(kept_in: str, table: str, bay: ChainedBay) -> None:
    file = bay.journal if kept_in == "journal" else bay.records
    change(file, f"UPDATE {table} SET inspection = 'i-9' WHERE inspection = 'i-2'")
    found = broken(bay)
    assert (found["what"], found["inspection"], found["index"]) == ("missing-document", "i-2", 3)
    with closing(sqlite3.connect(file)) as db, db:
        names = [row[1] for row in db.execute(f"PRAGMA table_info({table})") if row[1] != "inspection"]
        db.execute(f"UPDATE {table} SET inspection = 'i-2' WHERE inspection = 'i-9'")
        columns = ", ".join(names)
        db.execute(
            f"INSERT INTO {table} (inspection, {columns}) SELECT 'forged', {columns} FROM {table}"
            " WHERE inspection = 'i-2'"
        )
    found = broken(bay)
    assert (found["what"], found["inspection"]) == ("document-without-record", "forged")


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(order=st.permutations(range(LAST + 1)))
@pytest.mark.slow
def test_any_other_order_is_found_at_its_first_place(
    order: list[int], whole: ChainedBay, tmp_path: Path
) -> None:
    bay = copy_of(whole, tmp_path / "reordered")
    with closing(sqlite3.connect(bay.journal)) as db, db:
        rows = db.execute("SELECT chain, inspection, revision, record FROM chain ORDER BY n").fetchall()
        db.execute("DELETE FROM chain")
        db.executemany(
            "INSERT INTO chain (chain, inspection, revision, record) VALUES (?, ?, ?, ?)",
            [rows[place] for place in order],
        )
    if list(order) == sorted(order):
        assert verify(bay)[0] == 0
        return
    first = next(index for index, place in enumerate(order) if place != index)
    found = broken(bay)
    assert (found["what"], found["index"], found["kept_in"]) == ("missing-record", first, "journal")


def test_a_record_signed_by_another_is_found(bay: ChainedBay) -> None:
    said = bay.chain()[3]
    del said["signature"]
    forged = signer("somebody").signed(said)
    change(bay.journal, "UPDATE chain SET record = ? WHERE n = 4", forged)
    found = broken(bay)
    assert (found["what"], found["index"], found["inspection"]) == ("other-key", 3, "i-2")


def forget_all(bay: ChainedBay) -> None:
    for file in (bay.journal, bay.records):
        change(file, "DELETE FROM chain")


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda bay: bay.journal.unlink(), "there is no journal"),
        (lambda bay: bay.records.write_bytes(b"no database"), "records: "),
        (forget_all, "no result has been chained yet"),
    ],
)  # fmt: skip
def test_what_cannot_be_verified_is_said(
    spoil: Any, said: str, bay: ChainedBay, capsys: pytest.CaptureFixture[str]
) -> None:
    spoil(bay)
    assert main(["records", "verify", "--config", str(bay.config)]) == 3
    assert said in capsys.readouterr().err


@pytest.mark.parametrize("said", [b"", b"{}\n", b"\n\nnot json"])
def test_a_file_without_a_checkpoint_is_no_witness(
    said: bytes, bay: ChainedBay, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = tmp_path / "kept.txt"
    kept.write_bytes(said)
    assert main(["records", "verify", "--config", str(bay.config), "--checkpoint", str(kept)]) == 3
    assert "kept.txt" in capsys.readouterr().err


def test_a_result_put_in_under_the_name_of_a_bay_without_a_chain_is_told(
    bay: ChainedBay, capsys: pytest.CaptureFixture[str]
) -> None:
    with closing(Store(bay.url)) as store:
        store.put(document("forged-1", site="greywacke", bay="bay-9"))
    code, said = verify(bay)
    assert code == 0  # of this bay
    (note,) = said["bays"]["greywacke/bay-2"]["notes"]
    assert note.startswith("greywacke/bay-9, forged-1 revision 1, in the records: document without record")
    assert main(["records", "verify", "--records", bay.url]) == 1
    out = capsys.readouterr().out
    assert "greywacke/bay-2: sound" in out
    assert note in out


def test_records_that_were_deleted_are_missed(bay: ChainedBay) -> None:
    bay.records.unlink()
    found = broken(bay)
    assert (found["what"], found["kept_in"], found["index"]) == ("missing-record", "records", 0)


def test_every_record_kept_is_one_that_anybody_can_read(bay: ChainedBay) -> None:
    with closing(sqlite3.connect(bay.records)) as db:
        for (record,) in db.execute("SELECT record FROM chain"):
            assert read_record(record).bay == "bay-2"
