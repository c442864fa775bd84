"""Inches in a file of millimetres: a rim of 0.34 mm, read off a dial of 0.0001 in at 24 stops and two."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from ringtrue.cli import main

AMPLITUDE_MM = 0.17


def _file(path: Path, unit_mm: float, *, stops: int = 26, step: float = 0.0001, every_s: float = 0.0) -> str:
    rows = ["angle_deg,value_mm,time_s" if every_s else "angle_deg,value_mm"]
    for i in range(stops):
        angle = 375 * i / (stops - 1)
        value = round(AMPLITUDE_MM / unit_mm * math.cos(math.radians(angle)) / step) * step
        rows.append(f"{angle:g},{value:.4f}" + (f",{i * every_s:.3f}" if every_s else ""))
    path.write_text("\n".join(rows) + "\n")
    return str(path)


def test_a_small_figure_in_finer_steps_than_an_eye_reads_may_be_inches(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = _file(tmp_path / "inches.csv", 25.4)
    assert main(["grade", file, "--check", "rim"]) == 1
    said = capsys.readouterr().out
    assert "rim: unclear\n" in said
    assert "as if inches were taken for millimetres (0.3" in said
    assert (
        "multiply them by 25.4, or, where the gauge shows such steps in millimetres, give --resolution-mm"
        in (said)
    )
    again = _file(tmp_path / "again.csv", 25.4, step=0.0002)
    assert main(["separate", file, again, "--step-deg", "180"]) == 1
    said = capsys.readouterr().out
    assert said.count("rim: unclear, ") == 2
    assert said.count("give --resolution-mm") == 2


def test_two_indicators_read_by_eye_are_asked_for_their_unit_too(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = []
    for i in range(82):
        angle = 4.5 * i
        value = round(AMPLITUDE_MM / 25.4 * math.cos(math.radians(angle)), 4)
        rows += [f"{angle:g},{value:.4f},first", f"{angle:g},{-value:.4f},second"]
    file = tmp_path / "two.csv"
    file.write_text("\n".join(["angle_deg,value_mm,indicator", *rows]) + "\n")
    assert main(["grade", str(file), "--check", "face"]) == 1
    said = capsys.readouterr().out
    assert "face: unclear\n" in said
    assert "as if inches were taken" in said


def test_it_is_not_asked_where_the_step_is_stated_or_no_eye_could_read_so_fast(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    stated = _file(tmp_path / "stated.csv", 25.4)
    assert main(["grade", stated, "--check", "rim", "--resolution-mm", "0.0001"]) == 0
    fast = _file(tmp_path / "fast.csv", 25.4, stops=300, every_s=0.1)
    assert main(["grade", fast, "--check", "rim"]) == 0
    assert "as if inches" not in capsys.readouterr().out


def test_fine_readings_that_would_not_be_over_in_inches_or_no_dial_s_are_graded_as_before(
    tmp_path: Path,
) -> None:
    assert main(["grade", _file(tmp_path / "fine.csv", 1.7), "--check", "rim"]) == 0
    tiny = _file(tmp_path / "tiny.csv", 42.0)  # 0.008 mm, 0.2 mm in inches
    assert main(["grade", tiny, "--check", "rim"]) == 0
