"""A file that somebody asked for."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from ringtrue.writing import NotWrittenError, write_new


def test_it_is_on_the_disk_before_it_has_its_name_and_its_name_is_before_it_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "report.pdf"
    synced: list[tuple[str, bool]] = []
    fsync = os.fsync

    def watched(number: int) -> None:
        synced.append((Path(f"/proc/self/fd/{number}").readlink().name, file.exists()))
        fsync(number)

    monkeypatch.setattr(os, "fsync", watched)
    write_new(file, b"whole", "a report")
    assert synced == [("report.pdf", False), (tmp_path.name, True)]
    assert file.read_bytes() == b"whole"


def test_what_fails_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(NotWrittenError, match="No space left"):
        write_new(tmp_path / "report.pdf", b"whole", "a report")
    assert list(tmp_path.iterdir()) == []
