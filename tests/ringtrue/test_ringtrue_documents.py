"""The documents are executed: what they show must work."""

from __future__ import annotations

import json
import re
import shlex
import subprocess
import tomllib
from pathlib import Path

import pytest

from acquire.bay.asked import parse, read_payload
from config.profile import GaugeProfile
from config.settings import read_settings
from drivers.proof import failures
from ringtrue import __version__
from ringtrue.cli import COMMANDS, _parser, main
from ringtrue.commands.send import argument

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text()
DOCUMENTS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]


def blocks(document: Path, language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", document.read_text(), re.MULTILINE | re.DOTALL)


def command_lines() -> list[list[str]]:
    shown = [block.replace("\\\n", " ") for document in DOCUMENTS for block in blocks(document, "sh")]
    lines = [line for block in shown for line in block.splitlines()]
    words = [shlex.split(line, comments=True) for line in lines]
    return [line[1:] for line in words if line[:1] in (["./run"], ["ringtrue"]) and line[1] != "test"]


@pytest.mark.parametrize("arguments", command_lines(), ids=" ".join)
def test_every_command_shown_is_one_that_ringtrue_takes(arguments: list[str]) -> None:
    args = _parser(arguments).parse_args(arguments)
    assert args.command in COMMANDS
    if args.command == "send":
        payload = {"id": "1", "operator": "R. Example", **dict(argument(text) for text in args.argument)}
        parse(args.name, read_payload(json.dumps(payload).encode())[1])


def test_the_command_shown_for_any_client_is_one() -> None:
    """Its id is made anew each time: sent twice, it is done twice."""
    shown = re.findall(r'command/(\w+) .*?-m "(.*?)"\n', (ROOT / "docs/mqtt.md").read_text(), re.DOTALL)
    assert [name for name, _ in shown] == ["cancel"]
    said = [subprocess.check_output(["sh", "-c", f'echo "{shown[0][1]}"']) for _ in range(2)]
    first, second = (parse("cancel", read_payload(payload)[1]).id for payload in said)
    assert first != second


def test_the_items_shown_are_those_of_the_example_method() -> None:
    method = tomllib.loads((ROOT / "config/methods/example.toml").read_text())
    (line,) = [line for line in command_lines() if "check=visual" in line]
    items = json.loads(line[-1].removeprefix("items="))
    assert [item["item"] for item in items] == [item["id"] for item in method["observed"]["visual"]["item"]]


def test_the_complete_configuration_is_right(tmp_path: Path) -> None:
    (block,) = blocks(ROOT / "README.md", "toml")
    file = tmp_path / "ringtrue.toml"
    file.write_text(block)
    settings = read_settings(file, {})
    assert settings.bay.site == "greywacke"
    assert [gauge.id for gauge in settings.gauge] == ["indicator-1", "encoder-1"]
    assert main(["check", str(file)]) == 0


def test_without_an_encoder_it_is_right_as_the_text_says(tmp_path: Path) -> None:
    """Its [[gauge]] left out, and in [angle] source, marks_deg and no gauge."""
    (block,) = blocks(ROOT / "README.md", "toml")
    head, _, _ = block.rpartition("[[gauge]]")
    (angle,) = re.findall(r'`\[angle\]` have `(source = "marks")` and `(marks_deg = \S+ \S+ \S+)`', README)
    file = tmp_path / "ringtrue.toml"
    file.write_text("\n".join((head, "[angle]", *angle)))
    assert read_settings(file, {}).angle.marks_deg == (0, 120, 240)


def test_the_gauge_of_ten_lines_reads_what_its_proof_says(tmp_path: Path) -> None:
    (block,) = blocks(ROOT / "DEVELOPERS.md", "toml")
    profile = GaugeProfile.model_validate(tomllib.loads(block))
    assert failures(profile) == []
    assert len(block.splitlines()) <= 10
    file = tmp_path / "my-gauge.toml"
    file.write_text(block)
    assert main(["check", str(file)]) == 0


def test_the_profiles_listed_are_those_that_ship() -> None:
    (table,) = re.findall(r"\| profile .*?\n\n", (ROOT / "README.md").read_text(), re.DOTALL)
    listed = re.findall(r"`([a-z-]+)`", table)
    assert sorted(listed) == sorted(path.stem for path in (ROOT / "config/gauges").glob("*.toml"))


def test_grading_the_example_file_works_as_shown(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    assert main(["grade", "examples/rim-truck-14.csv", "--check", "rim"]) == 0
    assert "within" in capsys.readouterr().out


def test_every_link_leads_somewhere() -> None:
    broken = [
        f"{document.name}: {target}"
        for document in [*DOCUMENTS, ROOT / "CHANGELOG.md"]
        for target in re.findall(r"\]\(([^)#:]+)\)", document.read_text())
        if not (document.parent / target).exists()
    ]
    assert broken == []


def test_every_command_is_in_the_readme_or_the_changes() -> None:
    text = (ROOT / "README.md").read_text() + (ROOT / "CHANGELOG.md").read_text()
    assert [name for name in COMMANDS if not re.search(rf"\b{name}\b`?", text)] == []


def test_the_changes_begin_with_this_version() -> None:
    first = re.search(r"^## (\S+)", (ROOT / "CHANGELOG.md").read_text(), re.MULTILINE)
    assert first is not None
    assert first.group(1) == __version__
