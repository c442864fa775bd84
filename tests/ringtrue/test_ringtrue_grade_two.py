"""`grade` of what two indicators read of a face, and of two turns: from a file to what is said."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from ringtrue.cli import main

TIR_MM = 0.2
HEAD = "angle_deg,value_mm,time_s,indicator"


def face_mm(deg: float) -> float:
    """Of a face that wobbles once around."""
    return TIR_MM / 2 * float(np.cos(np.deg2rad(deg - 41)))


def rows_of(float_mm: Callable[[float], float]) -> list[str]:
    """A turn each 2 degrees under two indicators half a turn apart; float_mm: of the crank, as barred."""
    rows = []
    for n in range(184):
        deg, at_s = 2.0 * n, 0.1 * n
        for name, on_deg in (("first", 0.0), ("second", 180.0)):
            rows.append(f"{deg:.1f},{face_mm(deg + on_deg) + float_mm(deg):.3f},{at_s:.1f},{name}")
    return rows


def graded(path: Path, capsys: pytest.CaptureFixture[str], *options: str) -> tuple[int, str]:
    code = main(["grade", str(path), *options, "--resolution-mm", "0.001", "--mpe-mm", "0.004"])
    told = capsys.readouterr()
    return code, told.out + told.err


def written(path: Path, rows: list[str], head: str = HEAD) -> Path:
    path.write_text("\n".join([head, *rows]) + "\n")
    return path


@pytest.mark.slow
def test_float_that_both_show_is_taken_off(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = written(tmp_path / "face.csv", rows_of(lambda deg: -0.12 if 100 <= deg < 230 else 0.0))
    options = ("--check", "face", "--radius-mm", "140", "--angle-u-deg", "0.1")
    code, said = graded(path, capsys, *options, "--json")
    check = json.loads(said)
    assert (code, check["outcome"]) == (0, "within"), check["reason"]
    assert check["true_tir_mm"] == pytest.approx(TIR_MM, abs=check["u_expanded_mm"])
    assert [step["is_float"] for step in check["level_steps"]] == [True, True]
    assert check["opposite"]["counts"] is True
    assert check["opposite"]["gauge"]["id"] == "second"
    _, text = graded(path, capsys, *options)
    assert "the second indicator shows 0." in text


@pytest.mark.slow
def test_two_turns_in_a_file_say_what_they_differ_by(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = [f"{2 * n},{face_mm(2 * n) + (0.002 if n > 180 else 0):.3f}" for n in range(364)]
    path = written(tmp_path / "rim.csv", rows, "angle_deg,value_mm")
    _, said = graded(path, capsys, "--check", "rim", "--angle-u-deg", "0.1")
    assert "from turn to turn 0.00" in said


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (["0,0.1,0,third"], "first or second, which stands half a turn further on"),
        (["0,0.1,0,first", "2,0.1,0.1,first"], "none of the second"),
        (["0,0.1,0,second"], "none of the first"),
    ],
)
def test_a_row_that_is_of_no_indicator_is_told(
    rows: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, told = graded(written(tmp_path / "face.csv", rows), capsys, "--check", "face")
    assert code == 3
    assert said in told


def test_on_a_rim_there_is_no_second_opposite(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, told = graded(written(tmp_path / "rim.csv", ["0,0.1,0,first"]), capsys, "--check", "rim")
    assert code == 3
    assert "indicator" in told


def test_too_few_rows_for_a_second_indicator_are_counted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = [row for n, row in enumerate(rows_of(lambda deg: 0.0)) if n % 16 < 2]
    path = written(tmp_path / "face.csv", rows)
    _, told = graded(path, capsys, "--check", "face", "--radius-mm", "140")
    assert "first gave 23 readings, at least 40 are needed" in told
