"""A picture goes where the bay's photos lie; one that the bay does not take is not left there."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from link.errors import LinkError
from ringtrue.cli import main


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    Image.new("RGB", (8, 8)).save(tmp_path / "leak.jpg")
    return tmp_path / "leak.jpg"


def sent(picture: Path, monkeypatch: pytest.MonkeyPatch, reply: Mapping[str, Any] | None) -> int:
    async def ask(args: object, name: str, arguments: Mapping[str, Any]) -> bytes:
        assert (picture.parent / "photos" / str(arguments["file"])).is_file()
        if reply is None:
            raise LinkError("no reply within 5 s")
        return json.dumps({"id": "r", **reply}).encode()

    monkeypatch.setattr("ringtrue.asking.ask", ask)
    where = ["--url", "mqtt://127.0.0.1:1", "--bay", "s/b", "--folder", str(picture.parent / "photos")]
    return main(["photo", str(picture), "--check", "visual", "--item", "leak", *where])


REFUSED = {"ok": False, "error": {"code": "no-such-item", "message": "there is no such item"}}


def test_a_picture_that_is_refused_is_not_left_in_the_folder(
    picture: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert sent(picture, monkeypatch, REFUSED) == 1
    assert list((picture.parent / "photos").iterdir()) == []


def test_one_that_was_there_before_stays_whatever_is_answered(
    picture: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert sent(picture, monkeypatch, {"ok": True}) == 0
    kept = list((picture.parent / "photos").iterdir())
    assert sent(picture, monkeypatch, REFUSED) == 1
    assert list((picture.parent / "photos").iterdir()) == kept != []


def test_without_an_answer_it_stays_as_the_bay_may_take_it_yet(
    picture: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert sent(picture, monkeypatch, None) == 3
    assert len(list((picture.parent / "photos").iterdir())) == 1
