"""The bay's key: made once, for one pair of eyes, and never written over."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

from chain.errors import KeyFileError
from chain.key import is_open_to_others, read_or_make


def test_it_is_made_once_and_read_ever_after(tmp_path: Path) -> None:
    file = tmp_path / "var" / "journal.key"
    made = read_or_make(file)
    assert file.stat().st_mode & 0o777 == 0o600
    before = file.read_bytes()
    assert read_or_make(file).public_key == made.public_key
    assert (file.read_bytes(), [one.name for one in file.parent.iterdir()]) == (before, ["journal.key"])
    assert not is_open_to_others(file)
    file.chmod(0o640)
    assert is_open_to_others(file)


def test_another_program_can_read_it(tmp_path: Path) -> None:
    """RFC 8410: the last 32 bytes of the public key's DER are the key."""
    file = tmp_path / "journal.key"
    made = read_or_make(file)
    command = ["openssl", "pkey", "-in", str(file), "-pubout", "-outform", "DER"]
    assert subprocess.check_output(command)[-32:].hex() == made.public_key


@pytest.mark.parametrize("said", [b"", b"no key", b"\xff" * 20_000])
def test_what_is_no_key_is_left_as_it_is(said: bytes, tmp_path: Path) -> None:
    file = tmp_path / "journal.key"
    file.write_bytes(said)
    with pytest.raises(KeyFileError, match=r"journal\.key: no Ed25519 key .* put the bay's key back"):
        read_or_make(file)
    assert file.read_bytes() == said


def test_a_key_of_another_kind_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "journal.key"
    subprocess.run(["openssl", "genpkey", "-algorithm", "X25519", "-out", file], check=True)
    with pytest.raises(KeyFileError, match="no Ed25519 key"):
        read_or_make(file)


def test_where_none_can_be_made_it_is_said(tmp_path: Path) -> None:
    (tmp_path / "a-file").touch()
    with pytest.raises(KeyFileError, match=r"cannot be made .*\[journal\] key"):
        read_or_make(tmp_path / "a-file" / "journal.key")
    (tmp_path / "a-folder").mkdir()
    with pytest.raises(KeyFileError, match="cannot be read"):
        read_or_make(tmp_path / "a-folder")


def test_what_a_killed_start_left_is_no_hindrance(tmp_path: Path) -> None:
    (tmp_path / f".journal.key.{os.getpid()}").write_text("half a key")
    read_or_make(tmp_path / "journal.key")
    assert [one.name for one in tmp_path.iterdir()] == ["journal.key"]
