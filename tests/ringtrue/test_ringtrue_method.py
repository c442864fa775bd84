from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from config.files import shipped
from ringtrue.cli import main
from tests.ringtrue.inspected_bay import ID, inspect

pytestmark = pytest.mark.slow
TEXT = shipped("methods", "example").read_text().replace('version = "1"', 'version = "2"', 1)


@pytest.fixture(scope="module")
def inspected(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bay with one closed inspection: a rim of 0.19 mm, seen by eye as well, its face not read."""
    return inspect(tmp_path_factory.mktemp("inspected"))


@pytest.fixture
def bay(inspected: Path, tmp_path: Path) -> Path:
    """A copy of it."""
    return shutil.copytree(inspected, tmp_path / "bay")


def method(folder: Path, *changes: tuple[str, str]) -> str:
    """A second version of the example method, changed."""
    text = TEXT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    file = folder / "b.toml"
    file.write_text(text)
    return str(file)


def test_what_changed_is_said_with_its_unit_and_meaning(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    new = method(
        tmp_path, ("months = 12 ", "months = 6 "), ('"penetrant", "warm-leak"]', '"penetrant"]'),
    )  # fmt: skip
    assert main(["method", "diff", "example", new]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "example version 1 -> example version 2",
        "required.bench: warm-leak is no longer required",
        "intervals.months: 12 -> 6 months",
        "    When the next is due. After so many months.",
    ]


def test_what_nobody_changed_is_said_to_be_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["method", "diff", "example", "example"]) == 0
    assert main(["method", "diff", "example", method(tmp_path)]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "example version 1 -> example version 1",
        "nothing has changed",
        "example version 1 -> example version 2",
        "nothing but its name has changed",
    ]


def test_inspections_that_would_end_differently_are_named_and_nothing_is_written(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = {file: hashlib.sha256(file.read_bytes()).digest() for file in (bay / "var").glob("*.db")}
    new = method(bay, ("limit_mm = 0.28 ", "limit_mm = 0.18 "))
    assert main(["method", "diff", "example", new, "--config", str(bay / "ringtrue.toml")]) == 1
    last = capsys.readouterr().out.splitlines()[-1]
    assert last == f"{ID}: incomplete -> replace: rim 0.190 over 0.18 (was within 0.28)"
    assert {file: hashlib.sha256(file.read_bytes()).digest() for file in (bay / "var").glob("*.db")} == before


def test_a_check_that_is_no_longer_asked_for_is_named_as_that(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    new = method(bay, ('on-engine = ["visual", "rim", "face"]', 'on-engine = ["visual", "rim"]'))
    journal = str(bay / "var" / "journal.db")
    assert main(["method", "diff", "example", new, "--journal", journal]) == 1
    assert capsys.readouterr().out.splitlines()[-1] == (
        f"{ID}: incomplete -> keep: face no longer asked for (was missing)"
    )
    assert main(["method", "diff", "example", new, "--journal", journal, "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert found["changes"][1] == {
        "key": "required.on-engine", "what": "removed", "old": "face",
        "meaning": "What must be done. On the engine.",
    }  # fmt: skip
    (differs,) = found["differ"]
    assert (differs["inspection"], differs["was"], differs["now"]) == (ID, "incomplete", "keep")
    assert [check["check"] for check in differs["checks"]] == ["face"]
    assert found["a"]["version"], found["b"]["version"] == ("1", "2")


def test_what_would_end_the_same_is_said(bay: Path, capsys: pytest.CaptureFixture[str]) -> None:
    new = method(bay, ("limit_mm = 0.28 ", "limit_mm = 0.27 "))
    config = str(bay / "ringtrue.toml")
    assert main(["method", "diff", "example", new, "--config", config]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "no inspection that was closed would end differently"
    assert main(["method", "diff", new, "example", "--config", config]) == 0


def test_a_journal_without_inspections_is_one_line(bay: Path, capsys: pytest.CaptureFixture[str]) -> None:
    journal = bay / "var" / "journal.db"
    with closing(sqlite3.connect(journal)) as db:
        for table in ("event", "sample", "result"):
            db.execute(f"DELETE FROM {table}")
        db.commit()
    assert main(["method", "diff", "example", method(bay), "--journal", str(journal)]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == (
        f"{journal}: no inspection in it yet, so none ends differently"
    )


def test_what_is_no_method_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["method", "diff", "example", str(tmp_path / "none.toml")]) == 3
    assert capsys.readouterr().err.startswith(f"ringtrue: B {tmp_path}/none.toml: no such file")
    bad = method(tmp_path, ("limit_mm = 0.28 ", 'limit_mm = "x" '))
    assert main(["method", "diff", bad, "example"]) == 3
    assert "rim.limit_mm" in capsys.readouterr().err
    assert main(["method", "diff", "example", "example", "--journal", str(tmp_path / "no.db")]) == 3
    assert "there is no journal" in capsys.readouterr().err
