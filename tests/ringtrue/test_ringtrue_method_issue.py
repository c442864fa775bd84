"""`ringtrue method key`, `sign` and `publish`, and the bay that takes it up, over a real broker."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path

import pytest

from chain.issued import read_issued
from contract.topics import Topics
from ringtrue.cli import main
from tests.link.outside import ear, mosquitto, speak

pytestmark = pytest.mark.slow
SITE = "greywacke"


def say(capsys: pytest.CaptureFixture[str], *words: str | Path, code: int = 0) -> str:
    assert main(["method", *map(str, words)]) == code
    said = capsys.readouterr()
    return said.out if code == 0 else said.err


def sign(folder: Path, capsys: pytest.CaptureFixture[str], number: int, *more: str) -> Path:
    issue = folder / f"{number}.issue"
    say(capsys, "key", folder / "office.key")
    words: list[str | Path] = ["sign", "example", "--key", folder / "office.key", "--site", SITE]
    say(capsys, *words, "--number", str(number), "-o", issue, *more)
    return issue


def test_a_key_is_made_once_and_told_as_bays_are_to_have_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = say(capsys, "key", tmp_path / "office.key")
    assert "made" in said
    again = json.loads(say(capsys, "key", tmp_path / "office.key", "--json"))
    assert again["made"] is False
    assert f'authority = "{again["authority"]}"' in said
    assert (tmp_path / "office.key").stat().st_mode & 0o777 == 0o600


def test_a_method_is_signed_into_a_file_that_a_bay_would_take(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    issue = sign(tmp_path, capsys, 4, "--rollback")
    authority = json.loads(say(capsys, "key", tmp_path / "office.key", "--json"))["authority"]
    found = read_issued(issue.read_bytes(), authority, SITE)
    assert (found.issue.number, found.issue.rollback, found.method.id) == (4, True, "example")


def test_what_cannot_be_signed_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    issue = sign(tmp_path, capsys, 4)
    words: list[str | Path] = ["sign", "example", "--site", SITE, "--number", "5", "-o"]
    assert "no such key" in say(capsys, *words, tmp_path / "x", "--key", tmp_path / "none.key", code=3)
    key: list[str | Path] = ["--key", tmp_path / "office.key"]
    assert "exists already" in say(capsys, *words, issue, *key, code=3)
    (tmp_path / "bad.toml").write_text('schema = "ringtrue/method/1"\nid = "x"\n')
    said = say(capsys, "sign", tmp_path / "bad.toml", *words[2:], tmp_path / "y", *key, code=3)
    assert "bad.toml" in said
    for site in ("a/b", "+", "#", ""):
        named: list[str | Path] = ["sign", "example", "--site", site, "--number", "5", "-o", tmp_path / "z"]
        assert "expected as in [bay] site" in say(capsys, *named, *key, code=3)
    for number in ("0", "-1", "two", "1.5"):
        with pytest.raises(SystemExit) as left:
            main(["method", "sign", "example", "--key", "k", "--site", SITE, "--number", number, "-o", "x"])
        assert left.value.code == 2
    assert "no issue" in say(capsys, "publish", tmp_path / "bad.toml", "--url", "mqtt://127.0.0.1:1", code=3)


async def test_where_the_broker_lets_nobody_hear_it_it_is_not_published(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A broker acknowledges what its access list throws away."""
    monkeypatch.setattr("ringtrue.issuing.BACK_S", 0.5)
    issue = sign(tmp_path, capsys, 4)
    (tmp_path / "rights").write_text("topic read ringtrue/#\n")
    lines = ["allow_anonymous true", f"acl_file {tmp_path}/rights"]
    async with mosquitto(tmp_path, lines) as broker:
        words = ["method", "publish", str(issue), "--url", broker.address.url]
        assert await asyncio.to_thread(main, words) == 3
    said = capsys.readouterr()
    assert "published" not in said.out
    assert f"not published: {Topics(SITE, '-').issued_method} did not come back" in said.err


async def test_it_is_published_once_and_never_below_what_is_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    third, fourth = sign(tmp_path, capsys, 3), sign(tmp_path, capsys, 4)
    topic = Topics(SITE, "x").issued_method
    async with mosquitto(tmp_path) as broker:

        async def publish(file: Path, *more: str) -> tuple[int, str]:
            words = ["method", "publish", str(file), "--url", broker.address.url, *more]
            code = await asyncio.to_thread(main, words)
            said = capsys.readouterr()
            return code, said.out + said.err

        await speak(broker.address, topic, "nonsense", "-r")  # what is no issue is in nobody's way
        code, said = await publish(fourth)
        assert code == 0
        assert said.startswith("published: number 4 for greywacke: example 1")
        async with ear(broker.address, topic) as heard:
            assert await heard.until_payload("/method") == fourth.read_text()
        assert (await publish(fourth))[1].startswith("there already")
        code, said = await publish(third)
        assert code == 3
        assert "holds number 4 already" in said
        (tmp_path / "office.key").rename(tmp_path / "old.key")
        other = sign(tmp_path, capsys, 1)
        code, said = await publish(other)
        assert code == 3
        assert "number 4 by another key" in said
        assert (await publish(other, "--replace-key"))[0] == 0
