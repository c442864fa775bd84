"""Practice as a trainee starts it: a process, its daemon, real serial lines, the built-in broker."""

from __future__ import annotations

import json
import os
import pty
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from acquire.bay.inspection import fold
from acquire.journal.reader import JournalReader
from ringtrue.cli import main
from tests.ringtrue.test_ringtrue_demo import assert_nothing_left

LONGEST_S = 120.0
ROOT = Path(__file__).parent.parent.parent
# On the engine, a sound damper; what is seen is told by the words of the sights.
ACTS = """\
lockout
open on-engine
wipe        # oil hides a leak
look
record visual good
set rim
dance
begin rim
bar
hold
set face
begin face
bar
"""


def command(folder: Path, *more: str) -> list[str]:
    return [sys.executable, "-m", "ringtrue", "practice", "--folder", str(folder), "--speed", "10", *more]


def practice(folder: Path, *more: str, typed: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        command(folder, *more),
        cwd=ROOT,
        input=typed,
        capture_output=True,
        text=True,
        timeout=LONGEST_S,
        check=False,
    )


@pytest.mark.slow
def test_a_script_is_played_to_the_end_and_gives_a_document(tmp_path: Path) -> None:
    script = tmp_path / "acts.txt"
    script.write_text(f"{ACTS}close\nsign R. Example\n")
    folder = tmp_path / "practice"
    # Far from the limits: on a busy machine readings come late, and are known to.
    done = practice(folder, "--fault", "none", "--seed", "2", "--script", str(script), "--json")
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    assert (document["schema"], document["fault"]) == ("ringtrue/practice/1", "none")
    assert (document["said"], document["wanted"]) == ("keep", "keep")
    figures = {figure["check"]: figure for figure in document["figures"]}
    for surface in ("rim", "face"):
        assert figures[surface]["is_inside"] is True
        assert figures[surface]["outcome"] == "within"
    assert figures["thickness"]["outcome"] == "missing"
    assert document["undone"] == ["visual-bench", "thickness", "penetrant", "warm-leak"]
    assert not document["mark"]["is_passed"]
    assert "> dance\nthere is no act 'dance': help lists them\n" in done.stderr
    assert "verdict: keep; right is keep: right" in done.stderr
    assert all(len(line) <= 80 for line in done.stderr.splitlines() if str(tmp_path) not in line)
    kept = folder / "practised" / f"{document['inspection']}.json"
    assert json.loads(kept.read_text()) == document
    assert_nothing_left(tmp_path)


@pytest.mark.slow
def test_an_exam_that_is_not_passed_says_so_and_leaves_nothing_open(tmp_path: Path) -> None:
    typed = "lockout\nopen\nhint\nfinish\n"
    first = practice(tmp_path, "--exam", "4", "--json", typed=typed)
    assert first.returncode == 1, first.stderr
    second = practice(tmp_path, "--exam", "4", "--json", typed=typed)
    same = [json.loads(done.stdout) for done in (first, second)]
    assert same[0]["fault"] == same[1]["fault"]
    assert [figure["true_mm"] for figure in same[0]["figures"]] == [
        figure["true_mm"] for figure in same[1]["figures"]
    ]
    assert same[0]["inspection"] != same[1]["inspection"]
    assert "exam 4: not passed" in first.stderr
    assert "hint: an exam has none" in first.stderr
    reader = JournalReader(tmp_path / "var" / "journal.db")
    states = [fold(reader.read(inspection)).state for inspection in reader.inspections()]
    reader.close()
    assert states == ["abandoned", "abandoned"]
    assert_nothing_left(tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("typed", ["open on-engine\nquit\n", "open on-engine\n", ""])
def test_to_quit_or_to_end_the_input_ends_it_tidily(typed: str, tmp_path: Path) -> None:
    done = practice(tmp_path, "--fault", "dented", typed=typed)
    assert (done.returncode, done.stderr) == (0, "")
    assert "It was" not in done.stdout
    assert_nothing_left(tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_at_a_terminal_it_prompts_and_an_interrupt_leaves_nothing(number: int, tmp_path: Path) -> None:
    near, far = pty.openpty()
    try:
        child = subprocess.Popen(command(tmp_path), cwd=ROOT, stdin=far, stdout=far, stderr=far)
        os.close(far)
        said, until_s = b"", time.monotonic() + LONGEST_S
        while b"practice> " not in said:
            assert time.monotonic() < until_s, said
            said += os.read(near, 4096)
        os.write(near, b"where\n")
        while said.count(b"practice> ") < 2:
            assert time.monotonic() < until_s, said
            said += os.read(near, 4096)
        assert b"damper on the engine; crank at 358.0" in said
        child.send_signal(number)
        assert child.wait(timeout=LONGEST_S) == 130
    finally:
        os.close(near)
    assert_nothing_left(tmp_path)


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--fault", "haunted"], "invalid choice: 'haunted'"),
        (["--exam", "3", "--fault", "none"], "not allowed with argument"),
        (["--speed", "100"], "a number from 0.1 to 30, not '100'"),
        (["--exam", "x"], "invalid int value: 'x'"),
    ],
)
def test_wrong_usage_is_told(more: list[str], told: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as refused:
        main(["practice", *more])
    assert refused.value.code == 2
    assert told in capsys.readouterr().err


def test_an_exam_takes_no_seed_beside_its_number(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["practice", "--exam", "3", "--seed", "4"]) == 2
    assert capsys.readouterr().err == ("ringtrue practice: an exam's number is its seed: leave --seed out\n")


def test_a_script_that_cannot_be_read_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    missing = tmp_path / "acts.txt"
    assert main(["practice", "--script", str(missing), "--folder", str(tmp_path / "practice")]) == 3
    assert capsys.readouterr().err == f"ringtrue: {missing} cannot be read: No such file or directory\n"
    assert not (tmp_path / "practice").exists()
