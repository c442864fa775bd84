"""A run-out worked by hand in a public technical manual, through `grade`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from ringtrue.cli import main

# Public military technical manual, crankshaft damper section: four stations of a turn read 0, +0.003,
# -0.002 and +0.003 in; "total indicator reading" 0.005 in [read in source].
STATIONS_IN = ((0, "0"), (90, "0.003"), (180, "-0.002"), (270, "0.003"))
TIR_IN = 0.005
MM_PER_IN = 25.4  # exactly: international yard and pound agreement, 1959


@pytest.fixture
def file(tmp_path: Path) -> Path:
    rows = [f"{angle},{float(value) * MM_PER_IN:.4f}" for angle, value in STATIONS_IN]
    made = tmp_path / "four-stations.csv"
    made.write_text("\n".join(["angle_deg,value_mm", *rows]) + "\n")
    return made


def test_the_total_indicator_reading_is_the_manuals(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["grade", str(file), "--check", "rim", "--json"])
    check = json.loads(capsys.readouterr().out)
    assert check["tir_mm"] == pytest.approx(TIR_IN * MM_PER_IN, abs=1e-9)


def test_four_stations_are_too_few_to_be_judged(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The manual takes the figure as it stands; between stations 90 degrees apart anything may hide."""
    assert main(["grade", str(file), "--check", "rim", "--json"]) == 1
    check = json.loads(capsys.readouterr().out)
    assert check["outcome"] == "invalid"
    assert "4 readings, at least 8 are needed" in check["reason"]
    assert "a gap of 90.0 degrees without a reading, at most 50 are allowed" in check["reason"]
    assert not {"true_tir_mm", "u_expanded_mm", "p_over"} & set(check)
