from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from config.files import shipped
from contract.units import NM_PER_MM
from ringtrue.cli import main
from tests.ringtrue.inspected_bay import CONFIG, ID, inspect

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def inspected(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bay's folder with one closed inspection: a rim of 0.19 mm, two recorded results."""
    return inspect(tmp_path_factory.mktemp("inspected"))


@pytest.fixture
def bay(inspected: Path, tmp_path: Path) -> Path:
    """A copy of it."""
    return shutil.copytree(inspected, tmp_path / "bay")


def regrade(bay: Path, *arguments: str) -> int:
    return main(["regrade", "--config", str(bay / "ringtrue.toml"), *arguments])


def test_what_was_recorded_comes_out_again(bay: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert regrade(bay, ID) == 0
    assert capsys.readouterr().out.splitlines() == [
        f"{ID}: revision {revision} in the {kept_in}: the same, byte for byte"
        for revision in (2, 4)
        for kept_in in ("journal", "records")
    ]


def test_all_of_a_journal_as_json(bay: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert regrade(bay, "--all", "--json") == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [(line["inspection"], line["revision"], line["same"]) for line in lines] == [
        (ID, 2, True), (ID, 2, True), (ID, 4, True), (ID, 4, True),
    ]  # fmt: skip


def test_the_method_then_in_force_counts_not_the_one_now(bay: Path) -> None:
    own = shipped("methods", "example").read_text().replace("limit_mm = 0.28", "limit_mm = 0.10")
    (bay / "own.toml").write_text(own)
    (bay / "ringtrue.toml").write_text(CONFIG.replace('"example"', '"own.toml"'))
    assert regrade(bay, ID) == 0


def test_without_records_the_journal_alone_is_compared(bay: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (bay / "var" / "records.db").unlink()
    assert regrade(bay, ID) == 0
    assert "in the records" not in capsys.readouterr().out
    assert not (bay / "var" / "records.db").exists()


def test_a_reading_that_was_altered_shows_where_it_tells(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    journal = sqlite3.connect(bay / "var" / "journal.db")
    altered = journal.execute("UPDATE sample SET value = value + ? WHERE value = 95000", (NM_PER_MM // 50,))
    assert altered.rowcount > 0
    journal.commit()
    journal.close()
    assert regrade(bay, ID) == 1
    said = capsys.readouterr().out
    assert f"{ID}: revision 2 in the journal: differs" in said
    assert "checks.rim.tir_mm: recorded 0.19, now 0.21" in said
    assert "readings_sha256: recorded" in said
    assert "no change of rule explains checks.rim." in said
    assert "rules that changed" not in said


def test_a_record_that_was_altered_is_found_beside_a_sound_journal(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    records = sqlite3.connect(bay / "var" / "records.db")
    (document,) = records.execute("SELECT document FROM results WHERE revision = 4").fetchone()
    records.execute(
        "UPDATE results SET document = ? WHERE revision = 4",
        (document.replace(b'"GQ-D-0815"', b'"GQ-D-0816"'),),
    )
    records.commit()
    records.close()
    assert regrade(bay, ID) == 1
    assert capsys.readouterr().out.splitlines()[-3:] == [
        f"{ID}: revision 4 in the records: differs",
        '  damper.serial: recorded "GQ-D-0816", now "GQ-D-0815"',
        "  no change of rule explains damper.serial: was journal or record altered or damaged?",
    ]


def test_a_figure_altered_in_the_records_alone_is_put_down_to_no_rule(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    alter(bay / "var" / "records.db", "results", b'"tir_mm":0.19', b'"tir_mm":0.29')
    assert regrade(bay, ID, "--json") == 1
    last = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert (last["kept_in"], last["rules"], last["unexplained"]) == ("records", [], ["checks.rim.tir_mm"])


def test_a_figure_that_an_older_version_graded_otherwise_names_the_rules_that_changed(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    alter(bay / "var" / "journal.db", "result", b'"tir_mm":0.19', b'"tir_mm":0.29')
    assert regrade(bay, ID) == 1
    said = capsys.readouterr().out
    assert "    0.1.0: the run-out estimate undoes what an uncertain angle flattens" in said
    assert "no change of rule" not in said


def alter(file: Path, table: str, old: bytes, new: bytes) -> None:
    with closing(sqlite3.connect(file)) as db:
        (document,) = db.execute(f"SELECT document FROM {table} WHERE revision = 4").fetchone()
        assert old in document
        db.execute(f"UPDATE {table} SET document = ? WHERE revision = 4", (document.replace(old, new),))
        db.commit()


def test_another_way_of_writing_the_same_is_a_difference(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    journal = sqlite3.connect(bay / "var" / "journal.db")
    (document,) = journal.execute("SELECT document FROM result WHERE revision = 2").fetchone()
    spaced = json.dumps(json.loads(document), indent=1).encode()
    journal.execute("UPDATE result SET document = ? WHERE revision = 2", (spaced,))
    journal.commit()
    journal.close()
    assert regrade(bay, ID) == 1
    assert "in how it is written only" in capsys.readouterr().out


def test_an_unknown_inspection_names_those_there_are(bay: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert regrade(bay, "truck-15") == 3
    assert f"truck-15: no such inspection in {bay}/var/journal.db; the latest there: {ID}" in (
        capsys.readouterr().err
    )


def test_an_inspection_without_a_result_is_said_and_no_trouble_among_all(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    journal = sqlite3.connect(bay / "var" / "journal.db")
    journal.execute("DELETE FROM result")
    journal.commit()
    journal.close()
    assert regrade(bay, ID) == 3
    assert "no result of it was recorded yet" in capsys.readouterr().err
    assert regrade(bay, "--all") == 0
    assert capsys.readouterr() == ("", "")


def test_one_or_all_must_be_asked_for(bay: Path) -> None:
    for arguments in ([], [ID, "--all"]):
        with pytest.raises(SystemExit) as left:
            regrade(bay, *arguments)
        assert left.value.code == 2


def test_a_method_that_is_not_the_one_of_its_hash_is_none_to_grade_by(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A limit that somebody or the disk had altered made a `within`, and the hash was the right one's."""
    with closing(sqlite3.connect(bay / "var" / "journal.db")) as db, db:
        altered = """replace(body, '"limit_mm":0.28', '"limit_mm":0.98')"""
        db.execute(f"UPDATE event SET body = {altered} WHERE kind = 'opened'")
    assert regrade(bay, ID) == 3
    said = f"the method that {ID} was opened with is not what its hash says; the journal is damaged"
    assert said in capsys.readouterr().err
    assert regrade(bay, "--all") == 1
    assert f"{ID}: cannot be graded again: " in capsys.readouterr().err
