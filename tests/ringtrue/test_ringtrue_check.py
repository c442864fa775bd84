"""`ringtrue check`: every kind of file, good and bad."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from config.files import shipped, shipped_names
from ringtrue.cli import main
from tests.config.test_config_settings import GOOD


def test_all_that_ships_is_good(capsys: pytest.CaptureFixture[str]) -> None:
    files = [str(shipped("gauges", name)) for name in shipped_names("gauges")]
    files += [str(shipped("methods", name)) for name in shipped_names("methods")]
    assert main(["check", *files]) == 0
    printed = capsys.readouterr()
    assert printed.out.count("a good gauge profile") == len(shipped_names("gauges"))
    assert printed.out.count("a good method") == len(shipped_names("methods"))
    assert printed.err == ""


def test_a_byte_order_mark_makes_no_other_kind_of_a_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "mine.toml"
    file.write_text("\ufeff" + shipped("methods", "example").read_text(), encoding="utf-8")
    assert main(["check", str(file)]) == 0
    assert capsys.readouterr().out == f"{file}: a good method\n"


@pytest.mark.parametrize("text", ["x = " + "9" * 5000, "x = " + "[" * 5000, "schema = 0x" + "9" * 5000])
def test_what_nobody_wrote_is_told_in_lines(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    (tmp_path / "mine.toml").write_text(text)
    assert main(["check", str(tmp_path / "mine.toml")]) == 1
    assert all("mine.toml" in line and ": expected " in line for line in capsys.readouterr().err.splitlines())


def test_mistakes_of_several_files_with_their_lines(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bay, gauge, good = tmp_path / "bay.toml", tmp_path / "gauge.toml", tmp_path / "good.toml"
    bay.write_text(GOOD.replace('"bay-2"', "2").replace("0.001", '"x"'))
    profile = shipped("gauges", "line-mm").read_text()
    line = 1 + profile[: profile.index("[value]")].count("\n")
    gauge.write_text(profile.replace("[value]", "[value]\nnonsense = 1", 1))
    good.write_text(GOOD)
    assert main(["check", str(bay), str(good), str(gauge)]) == 1
    printed = capsys.readouterr()
    assert printed.out == f"{good}: a good bay configuration\n"
    assert [line.partition(": expected")[0] for line in printed.err.splitlines()] == [
        f"{bay}:3: bay.name", f"{bay}:10: gauge[0].resolution_mm", f"{gauge}:{line + 1}: value.nonsense",
    ]  # fmt: skip


def test_a_profile_must_pass_its_own_proofs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    profile = shipped("gauges", "line-mm").read_text()
    at = profile.index("[[proof]]")
    proofs = profile[at:]
    digit = next(letter for letter in proofs if letter in "123456789")
    broken = tmp_path / "gauge.toml"
    broken.write_text(profile[:at] + proofs.replace(digit, "8" if digit != "8" else "7", 1))
    assert main(["check", str(broken)]) == 1
    assert "proof" in capsys.readouterr().err


def test_json_says_the_same(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    missing = tmp_path / "none.toml"
    assert main(["check", "--json", str(missing), str(shipped("methods", "example"))]) == 1
    first, second = map(json.loads, capsys.readouterr().out.splitlines())
    assert first["good"] is False
    assert first["problems"] == [
        {
            "file": str(missing),
            "line": None,
            "key": "file",
            "found": "no such file",
            "expected": "a TOML file",
        }
    ]
    assert (second["kind"], second["good"], second["problems"]) == ("method", True, [])


def test_files_and_folders_that_a_bay_needs_are_looked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bay, taken = tmp_path / "bay.toml", tmp_path / "taken"
    taken.write_text("a file, no folder")
    mqtt = 'url = "mqtts://broker"\nusername = "bay-2"\npassword_file = "none"\nca_file = "ca.pem"\n'
    journal = '[journal]\npath = "taken/journal.db"\n'
    bay.write_text(f"[mqtt]\n{mqtt}{journal}{GOOD}")
    assert main(["check", str(bay)]) == 1
    said = capsys.readouterr().err.splitlines()
    assert [line.removeprefix(f"{bay}: ").partition(":")[0] for line in said] == [
        "mqtt.password_file", "mqtt.ca_file", "journal.path",
    ]  # fmt: skip
    (tmp_path / "none").write_text("secret")
    (tmp_path / "ca.pem").write_text("certificate")
    bay.write_text(f"[mqtt]\n{mqtt}{GOOD}")
    assert main(["check", str(bay)]) == 0
    bay.write_text(f"[mqtt]\n{mqtt.replace('username', '# username')}{GOOD}")
    capsys.readouterr()
    assert main(["check", str(bay)]) == 1
    wanted = "mqtt.username: expected whose password password_file names, found nothing"
    assert wanted in capsys.readouterr().err


def test_a_password_without_whose_it_is_is_usage(capsys: pytest.CaptureFixture[str]) -> None:
    """Such a command went without a credential, and nobody answered it."""
    there = ["--url", "mqtt://127.0.0.1:9", "--bay", "greywacke/bay-2"]
    assert main(["send", *there, "--password-file", "pass", "close", "inspection=a"]) == 2
    assert "--username: expected whose password --password-file names" in capsys.readouterr().err


def test_a_method_with_the_name_of_one_that_ships_and_other_content_is_hinted_at(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = shipped("methods", "example").read_text()
    same, other, own = (tmp_path / f"{name}.toml" for name in ("same", "other", "own"))
    same.write_text(text + "# a comment of our own\n")
    other.write_text(text.replace("limit_mm = 0.28", "limit_mm = 0.26"))
    own.write_text(other.read_text().replace('id = "example"', 'id = "quarry"', 1))
    assert main(["check", str(same), str(other), str(own)]) == 0
    lines = capsys.readouterr().out.splitlines()
    good = [f"{file}: a good method" for file in (same, other, own)]
    assert [line for line in lines if "hint" not in line] == good
    (said,) = [line for line in lines if "hint" in line]
    assert lines.index(said) == 2
    assert f"ringtrue method diff example {other}" in said
    assert main(["check", str(other), "--json"]) == 0
    assert "give it an id of its own" in json.loads(capsys.readouterr().out)["hint"]
