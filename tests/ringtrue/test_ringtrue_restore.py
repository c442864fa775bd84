"""A copy of a bay back into its place: all of it, or nothing is changed and nothing lost."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
import tarfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from acquire.journal.migrations import SCHEMA_VERSION, version_of
from acquire.journal.reader import JournalReader
from acquire.journal.writer import Journal
from records.store import Store
from ringtrue.cli import main
from tests.ringtrue.copied_bay import (
    CONFIG,
    altered,
    full_disk,
    make_bay,
    make_copy,
    members,
    pack,
    records_url,
    reseal,
    tree,
)

INSPECTION = "truck-14"


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bay's configuration; nobody changes it."""
    return make_bay(tmp_path_factory.mktemp("original") / "bay")


@pytest.fixture(scope="module")
def copy(original: Path) -> Path:
    return make_copy(original, original.parent.parent / "copy.tar")


@pytest.fixture
def fresh(tmp_path: Path) -> Path:
    """Where the configuration of a new bay belongs."""
    return tmp_path / "fresh" / "bay-2.toml"


def restore(archive: Path, config: Path, *more: str) -> int:
    return main(["restore", str(archive), "--config", str(config), *more])


@pytest.mark.slow
def test_into_a_new_folder_it_grades_as_it_did(
    original: Path, copy: Path, fresh: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert restore(copy, fresh) == 0
    capsys.readouterr()
    said = []
    for config in (original, fresh):
        assert main(["regrade", "--all", "--config", str(config)]) == 0
        said.append(capsys.readouterr().out)
    assert said[0] == said[1]
    assert said[1].count("the same, byte for byte") == 4
    assert main(["check", str(fresh)]) == 0


def test_everything_is_in_its_place(copy: Path, fresh: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert restore(copy, fresh, "--json") == 0
    assert sorted(tree(fresh.parent)) == [
        "bay-2.toml", "own/indicator.toml", "own/method.toml", "var/journal.db", "var/records.db",
    ]  # fmt: skip
    assert fresh.read_text() == CONFIG
    said = json.loads(capsys.readouterr().out)
    assert said["placed"]["journal.db"] == str(fresh.parent / "var/journal.db")
    assert said["kept"] == []
    assert list(fresh.parent.rglob(".ringtrue*")) == []


def test_every_result_is_offered_to_the_records_again(copy: Path, fresh: Path) -> None:
    restore(copy, fresh)
    with (
        closing(Journal(fresh.parent / "var/journal.db")) as journal,
        closing(Store(records_url(fresh.parent))) as store,
    ):
        waiting = journal.pending("records")
        assert [row.payload for row in waiting] == [result.document for result in journal.results()]
        assert [store.put(row.payload) for row in waiting] == [False, False]


@pytest.mark.slow
def test_a_copy_of_an_older_version_is_brought_up(tmp_path: Path, fresh: Path) -> None:
    assert restore(make_copy(make_bay(tmp_path / "old", 1), tmp_path / "old.tar"), fresh) == 0
    with closing(sqlite3.connect(fresh.parent / "var/journal.db")) as db:
        assert version_of(db) == SCHEMA_VERSION


def test_it_only_looks_where_that_is_asked(
    copy: Path, fresh: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert restore(copy, fresh, "--check") == 0
    assert "whole; greywacke/bay-2 as of 20" in capsys.readouterr().out
    assert not fresh.parent.exists()


# -- what is there already


def test_what_is_there_is_never_overwritten_unasked(
    copy: Path, fresh: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fresh.parent.mkdir()
    fresh.write_text("# mine\n")
    before = tree(fresh.parent)
    assert restore(copy, fresh) == 3
    assert f"{fresh}: there already, and nothing was changed; --replace" in capsys.readouterr().err
    assert tree(fresh.parent) == before


@pytest.mark.slow
def test_own_files_that_are_as_they_were_are_in_nobodys_way(copy: Path, fresh: Path) -> None:
    restore(copy, fresh)
    for name in ("journal.db", "records.db"):
        (fresh.parent / "var" / name).unlink()
    assert restore(copy, fresh) == 0
    assert not list(fresh.parent.rglob("*.before-*"))


@pytest.mark.slow
def test_what_gives_way_is_kept_with_what_was_not_yet_in_its_file(copy: Path, fresh: Path) -> None:
    restore(copy, fresh)
    fresh.write_text("# mine\n")
    journal = fresh.parent / "var/journal.db"
    with closing(sqlite3.connect(journal)) as held:  # keeps SQLite from tidying up
        held.execute("PRAGMA journal_mode = WAL")
        held.execute("INSERT INTO reply (id, body) VALUES ('late', x'7b7d')")
        held.commit()
        assert Path(f"{journal}-wal").stat().st_size > 0
        assert restore(copy, fresh, "--replace") == 0
    (kept,) = journal.parent.glob("journal.db.before-*Z")
    with closing(sqlite3.connect(kept)) as db:
        assert db.execute("SELECT count(*) FROM reply WHERE id = 'late'").fetchone() == (1,)
    with closing(sqlite3.connect(journal)) as db:
        assert db.execute("SELECT count(*) FROM reply WHERE id = 'late'").fetchone() == (0,)
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    (mine,) = fresh.parent.glob("bay-2.toml.before-*")
    assert mine.read_text() == "# mine\n"
    assert fresh.read_text() == CONFIG


def test_what_is_left_of_a_database_that_is_gone_is_not_taken_for_the_new_ones(
    copy: Path, fresh: Path
) -> None:
    restore(copy, fresh)
    journal = fresh.parent / "var/journal.db"
    journal.unlink()
    Path(f"{journal}-wal").write_bytes(b"of the old one")
    assert restore(copy, fresh, "--replace") == 0
    assert not Path(f"{journal}-wal").exists()
    (kept,) = journal.parent.glob("journal.db.before-*Z-wal")
    assert kept.read_bytes() == b"of the old one"


def test_while_a_daemon_has_the_journal_nothing_is_touched(
    copy: Path, fresh: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    restore(copy, fresh)
    with closing(Journal(fresh.parent / "var/journal.db")):
        before = tree(fresh.parent)
        assert restore(copy, fresh, "--replace") == 3
        assert tree(fresh.parent) == before
    assert "another daemon is using this journal; stop it first" in capsys.readouterr().err


@pytest.mark.slow
@pytest.mark.parametrize("failing", range(1, 6))
@pytest.mark.parametrize("is_there", [False, True])
def test_one_that_fails_half_way_leaves_everything_as_it_was(
    failing: int, is_there: bool, copy: Path, fresh: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fresh.parent.mkdir()
    if is_there:
        restore(copy, fresh)
        for path in fresh.parent.rglob("*.toml"):
            path.write_text("# mine\n")
    before = tree(fresh.parent)
    renames = 0
    replace = Path.replace

    def fail(path: Path, to: Path) -> Path:
        nonlocal renames
        renames += 1
        if renames == failing:
            raise OSError(5, "Input/output error", str(to))
        return replace(path, to)

    monkeypatch.setattr(Path, "replace", fail)
    assert restore(copy, fresh, "--replace") == 3
    assert renames >= failing
    assert tree(fresh.parent) == before


KILLED = """
import os, sys
from pathlib import Path
from ringtrue.cli import main
replace, left = Path.replace, int(sys.argv[1])
def replace_or_die(path, to):
    global left
    left -= 1
    if left == 0:
        os._exit(9)
    return replace(path, to)
Path.replace = replace_or_die
main(sys.argv[2:])
"""


@pytest.mark.slow
@pytest.mark.parametrize("rename", [1, 2])
def test_one_that_is_killed_between_its_renames_has_lost_nothing_and_is_done_again(
    rename: int, copy: Path, fresh: Path
) -> None:
    restore(copy, fresh)
    for name in ("journal.db", "records.db"):
        file = fresh.parent / "var" / name
        file.write_bytes(altered(file.read_bytes(), fresh.parent, "CREATE TABLE mine (x)"))
    (fresh.parent / "altered.db").unlink()
    before = tree(fresh.parent)
    command = [
        sys.executable,
        "-c",
        KILLED,
        str(rename),
        "restore",
        str(copy),
        "--config",
        str(fresh),
        "--replace",
    ]
    assert subprocess.run(command, check=False, capture_output=True).returncode == 9
    assert set(before.values()) <= set(tree(fresh.parent).values())
    assert restore(copy, fresh, "--replace") == 0
    after = tree(fresh.parent)
    assert set(before.values()) <= set(after.values())
    assert after["var/records.db"] == members(copy)["records.db"]
    with closing(JournalReader(fresh.parent / "var/journal.db")) as reader:
        assert reader.inspections() == [INSPECTION]


@pytest.mark.parametrize("until", ["records.db", "journal.db", "the results are offered again"])
@pytest.mark.parametrize("is_there", [False, True])
def test_on_a_full_disk_everything_stays_as_it_was(
    until: str, is_there: bool, copy: Path, fresh: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    if is_there:
        restore(copy, fresh)
    before = tree(fresh.parent)
    capsys.readouterr()
    sizes = {name: len(data) - 1 for name, data in members(copy).items()}
    with full_disk(sizes.get(until, sizes["journal.db"] + 1)):
        assert restore(copy, fresh, "--replace") == 3
    assert capsys.readouterr().err.count("\n") == 1
    assert tree(fresh.parent) == before


# -- what is no whole copy


def refused(archive: Path, config: Path, capsys: pytest.CaptureFixture[str], code: int = 1) -> str:
    for more in ([], ["--check"]):
        assert restore(archive, config, *more) == code
        said = capsys.readouterr().err
        assert said.startswith(f"ringtrue: {archive}: ")
        assert said.count("\n") == 1
    assert tree(config.parent) == {}
    return said


@pytest.mark.slow
def test_a_truncated_one_is_refused_wherever_it_ends(
    copy: Path, fresh: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = copy.read_bytes()
    cut = tmp_path / "cut.tar"
    end = whole.index(b"manifest.sha256") + 512 + 1
    for length in [0, 1, 511, 512, *range(700, end, end // 40), end]:
        cut.write_bytes(whole[:length])
        refused(cut, fresh, capsys)


@pytest.mark.slow
def test_one_with_a_byte_changed_anywhere_is_refused(
    copy: Path, fresh: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    held = members(copy)
    for name, data in held.items():
        for place in (0, len(data) // 2, len(data) - 1):
            changed = bytearray(data)
            changed[place] ^= 0x20
            refused(pack(tmp_path / "changed.tar", {**held, name: bytes(changed)}), fresh, capsys)


def test_one_with_more_or_less_than_it_says_is_refused(
    copy: Path, fresh: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    held = members(copy)
    file = tmp_path / "changed.tar"
    for name in held:
        refused(pack(file, {other: data for other, data in held.items() if other != name}), fresh, capsys)
    refused(pack(file, {**held, "more": b""}), fresh, capsys)
    link = tarfile.TarInfo("journal.db")
    link.type, link.linkname = tarfile.SYMTYPE, "records.db"
    refused(pack(file, held, link), fresh, capsys)


@pytest.mark.parametrize("data", [b"", b"a shopping list\n" * 100, b"SQLite format 3\0" * 100, bytes(10_240)])
def test_what_is_no_copy_at_all_is_refused(
    data: bytes, fresh: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "list.tar").write_bytes(data)
    refused(tmp_path / "list.tar", fresh, capsys)


def test_a_file_that_is_not_there_or_a_folder_is_said(
    fresh: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "No such file" in refused(tmp_path / "none.tar", fresh, capsys, 3)
    assert "Is a directory" in refused(tmp_path, fresh, capsys, 3)


def put(role: str, place: str | None) -> Callable[[dict[str, Any]], None]:
    def change(manifest: dict[str, Any]) -> None:
        for part in manifest["parts"]:
            if part["role"] == role:
                part["place"] = place

    return change


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (put("gauge", "../outside.toml"), "outside of the configuration's folder"),
        (put("method", "/outside.toml"), "outside of the configuration's folder"),
        (put("gauge", "own/method.toml"), "names a part twice"),
        (put("journal", None), "one configuration, one journal"),
        (put("configuration", None), "one configuration, one journal"),
        (lambda manifest: manifest.update(colour="red"), "colour"),
        (lambda manifest: manifest.update(schema="shopping/1"), "schema"),
        (lambda manifest: manifest["parts"].pop(), "one configuration, one journal|journal.db"),
    ],
)
def test_a_manifest_that_does_not_hold_together_is_refused(
    change: Callable[[dict[str, Any]], None],
    said: str,
    copy: Path,
    fresh: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    archive = pack(tmp_path / "changed.tar", reseal(members(copy), change))
    assert any(words in refused(archive, fresh, capsys) for words in said.split("|"))


@pytest.mark.parametrize(
    ("name", "sql", "said", "code"),
    [
        ("journal.db", "PRAGMA user_version = 99", "journal.db: this journal is of version 99", 3),
        ("journal.db", "DROP TABLE event", "journal.db: a journal was expected", 3),
        ("records.db", "UPDATE ringtrue_version SET version_num = '9001'", "found 9001", 3),
        (
            "records.db",
            "DROP TABLE ringtrue_version; DROP TABLE results; CREATE TABLE x (y)",
            "another program's",
            3,
        ),
    ],
)
def test_databases_that_this_version_cannot_use_are_refused(
    name: str, sql: str, said: str, code: int, copy: Path, fresh: Path, tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    held = members(copy)
    archive = pack(tmp_path / "x.tar", reseal({**held, name: altered(held[name], tmp_path, sql)}))
    assert said in refused(archive, fresh, capsys, code)


def test_a_database_that_was_copied_damaged_is_refused(
    copy: Path, fresh: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    held = members(copy)
    archive = pack(tmp_path / "x.tar", reseal({**held, "journal.db": held["journal.db"][:-5000]}))
    assert "not a whole copy of a bay (journal.db: " in refused(archive, fresh, capsys)


def test_a_copy_of_a_later_kind_is_for_a_later_version(
    copy: Path, fresh: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    later = reseal(members(copy), lambda manifest: manifest.update(schema="ringtrue/backup/2"))
    said = refused(pack(tmp_path / "later.tar", later), fresh, capsys, 3)
    assert "of the kind ringtrue/backup/2, and this ringtrue knows ringtrue/backup/1" in said


def test_the_restored_journal_is_read_as_before(original: Path, copy: Path, fresh: Path) -> None:
    restore(copy, fresh)
    found = []
    for config in (original, fresh):
        with closing(JournalReader(config.parent / "var/journal.db")) as reader:
            found.append(reader.read(INSPECTION))
    assert found[0] == found[1] != []
