"""`ringtrue send`: its arguments; what it does with a daemon is tried with `run`."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from contract.commands import COMMANDS
from ringtrue.asking import _shown
from ringtrue.cli import main
from ringtrue.commands.send import argument


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("engine=2207", ("engine", "2207")),
        ("note=a=b", ("note", "a=b")),
        ("value_mm=-0.19", ("value_mm", -0.19)),
        ("hours_h=2950", ("hours_h", 2950)),
        ('items=[{"item":"leak","seen":"good"}]', ("items", [{"item": "leak", "seen": "good"}])),
        ("work_order=", ("work_order", "")),
    ],
)
def test_an_argument_is_a_number_where_its_name_says_so(text: str, expected: tuple[str, Any]) -> None:
    assert argument(text) == expected
    assert type(argument(text)[1]) is type(expected[1])


@pytest.mark.parametrize("text", ["engine", "=x", "value_mm=tall", "items=[1"])
def test_what_is_no_argument_is_usage(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["send", "record", text]) == 2
    printed = capsys.readouterr()
    assert printed.err.startswith("ringtrue send: ")
    assert len(printed.err.splitlines()) == 1


def test_help_tells_every_command_and_what_it_must_have(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["send", "--help"])
    told = capsys.readouterr().out.partition("commands and their arguments")[2].partition("examples:")[0]
    words = set(re.findall(r"[a-z_]+", told))
    assert set(COMMANDS) <= words
    parts = re.split(r"^  (?=[a-z])", told, flags=re.MULTILINE)
    for name, command in COMMANDS.items():
        said = " ".join(part for part in parts if name in re.split(r"[ ,]+", part.split("  ")[0]))
        wanted = set(command.model_fields) - {"id", "operator"}
        if name != "photo":  # `ringtrue photo` gives its arguments
            assert wanted <= set(re.findall(r"[a-z_]+", said)), name


def test_a_value_with_spaces_is_told_of_the_quotes(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["send", "sign", "name=R.", "Example"]) == 2
    assert "a value with spaces stands in quotes" in capsys.readouterr().err


def test_json_whose_quotes_the_shell_took_is_told_of_single_quotes(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["send", "record", "check=visual", "items=[{item: leak, seen: good}]"]) == 2
    said = capsys.readouterr().err
    assert "items is no valid JSON, from character 3 on" in said
    assert """items='[{"item": "leak", "seen": "good"}]'""" in said


def test_sentences_of_a_reply_stand_on_lines_of_their_own() -> None:
    assert _shown(["Wheels chocked.", "Bar by hand."]) == "\n    - Wheels chocked.\n    - Bar by hand."
    assert (_shown(["rim", "face"]), _shown("i-1"), _shown(4)) == (' ["rim", "face"]', " i-1", " 4")


def test_a_decimal_comma_is_told_of_the_point(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["send", "record", "angle_deg=0", "value_mm=0,36"]) == 2
    assert "value_mm is a number with a point such as 0.12, not '0,36'" in capsys.readouterr().err


def test_the_reply_to_close_is_said_in_words(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    summary = "closed: verdict incomplete; missing: face, thickness"
    reply = {
        "id": "1", "ok": True, "inspection": "truck-14", "verdict": "incomplete",
        "missing": ["face", "thickness"], "summary": summary, "asked": "0",
    }  # fmt: skip

    async def answered(*_: object) -> bytes:
        return json.dumps(reply).encode()

    monkeypatch.setattr("ringtrue.asking.ask", answered)
    assert main(["send", "close", "inspection=truck-14"]) == 0
    assert capsys.readouterr().out == f"{summary}\n  inspection: truck-14\n"


def test_a_url_needs_a_bay(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["send", "end", "--url", "mqtt://127.0.0.1:1"]) == 2
    assert "--bay" in capsys.readouterr().err
    assert main(["send", "end", "--url", "nowhere", "--bay", "a/b"]) == 2
    assert "mqtt://host:port" in capsys.readouterr().err
    assert main(["send", "end", "--url", "mqtt://127.0.0.1:1", "--bay", "a"]) == 2
    assert "SITE/NAME" in capsys.readouterr().err
