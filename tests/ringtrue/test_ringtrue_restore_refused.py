"""What is no whole copy of a bay, or none for this version, is refused in one line, and changes nothing."""

from __future__ import annotations

import tarfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from ringtrue.cli import main
from tests.ringtrue.copied_bay import altered, make_bay, make_copy, members, pack, reseal, tree


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("original")
    return make_copy(make_bay(folder / "bay"), folder / "copy.tar")


@pytest.fixture
def fresh(tmp_path: Path) -> Path:
    """Where the configuration of a new bay belongs."""
    return tmp_path / "fresh" / "bay-2.toml"


def refused(archive: Path, config: Path, capsys: pytest.CaptureFixture[str], code: int = 1) -> str:
    for more in ([], ["--check"]):
        assert main(["restore", str(archive), "--config", str(config), *more]) == code
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
