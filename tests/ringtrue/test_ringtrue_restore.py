"""A copy of a bay back into its place: all of it, or nothing is changed and nothing lost."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

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
    records_url,
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
    tmp_path: Path, fresh: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    original = make_bay(tmp_path / "bay", today=True)
    assert restore(make_copy(original, tmp_path / "copy.tar"), fresh) == 0
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


def test_the_restored_journal_is_read_as_before(original: Path, copy: Path, fresh: Path) -> None:
    restore(copy, fresh)
    found = []
    for config in (original, fresh):
        with closing(JournalReader(config.parent / "var/journal.db")) as reader:
            found.append(reader.read(INSPECTION))
    assert found[0] == found[1] != []


def test_photos_go_with_it_into_their_folder(
    tmp_path: Path, fresh: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bay = make_bay(tmp_path / "with photos")
    photos = bay.parent / "var/photos"
    photos.mkdir(parents=True)
    picture = photos / f"{'a' * 64}.jpg"
    picture.write_bytes(b"pixels")
    copy = make_copy(bay, tmp_path / "with-photos.tar")
    assert main(["restore", str(copy), "--config", str(fresh)]) == 0
    capsys.readouterr()
    assert (fresh.parent / "var/photos" / picture.name).read_bytes() == b"pixels"
