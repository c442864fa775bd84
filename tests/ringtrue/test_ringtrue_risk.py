"""`ringtrue risk`: table, picture, priors, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from grading.gauge.risk import Chances
from records.pictures.risk import risk_svg
from ringtrue.cli import main

FINE = ["risk", "--check", "rim", "--resolution-mm", "0.001", "--mpe-mm", "0.004"]


def test_the_table_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*FINE, "--looks", "2", "--prior-mean-mm", "0.18", "--prior-sd-mm", "0.04"]) == 0
    text = capsys.readouterr().out
    for words in ("limit 0.28 mm", "method example 1, guarded-both", "3.0 % found within",
                  "bound is 5.0 %", "40 % is kept for looking again", "All looks together keep the bound",
                  "consumer's risk", "producer's risk"):  # fmt: skip
        assert words in text
    assert max(map(len, text.splitlines())) <= 110


def test_the_figures_as_data(capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        main([*FINE, "--x-mm", "0", "0.004", "--prior-mean-mm", "0.18", "--prior-sd-mm", "0.04", "--json"])
        == 0
    )
    found = json.loads(capsys.readouterr().out)
    assert [row["true_mm"] for row in found["chances"]] == pytest.approx([0.276, 0.28, 0.284])
    for row in found["chances"]:
        assert row["within"] + row["unclear"] + row["over"] == pytest.approx(1.0)
    assert found["chances"][1]["within"] == pytest.approx(0.03)  # the first look: 60 % of 5 %
    assert found["accept_mm"] < 0.28 < found["reject_mm"]
    assert found["all_parts"]["nonconforming"] == pytest.approx(0.0062097, abs=1e-7)  # normal tail at 2.5
    assert found["looks"] is None


def test_repeating_shrinks_the_random_part_only(capsys: pytest.CaptureFixture[str]) -> None:
    def expanded(*options: str) -> float:
        assert main([*FINE, "--repeatability-mm", "0.005", "--json", *options]) == 0
        return float(json.loads(capsys.readouterr().out)["u_expanded_mm"])

    once, often = expanded(), expanded("--repeats", "1000")
    assert often < once
    assert often == pytest.approx(0.95 * 0.004, rel=0.02)  # the span error is left


def test_the_random_part_of_a_result_can_stand_in(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*FINE, "--u-random-mm", "0.003", "--repeats", "9", "--mpe-mm", "0", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["u_expanded_mm"] == pytest.approx(1.959964 * 0.001)


def test_a_rule_by_guard_factor(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    example = (Path(__file__).parents[2] / "config" / "methods" / "example.toml").read_text()
    own = tmp_path / "own.toml"
    own.write_text(example.replace("probability = 0.95", "guard_r = 1.0"))
    options = ["--method", str(own), "--u-random-mm", "0.004", "--mpe-mm", "0", "--looks", "2"]
    assert main(["risk", *options]) == 0
    text = capsys.readouterr().out
    # The normal tail beyond 2, of which the first look takes 60 %: beyond 2.208; 0.28 -+ 1.104 x 1.96 x 0.004
    assert "Figures up to 0.2713 mm are within, from 0.2887 mm on over." in text
    assert "1.5 % found within" in text
    assert "bound is" not in text
    assert "An unclear part measured up to 2 times" in text


def test_without_a_gauge_the_methods_typed_dial_counts(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["risk", "--check", "thickness", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["limit_mm"] == 0.25
    assert found["repeat_share"] == 0.4
    assert found["u_expanded_mm"] > 0.015


CONFIG = """\
bay = { site = "greywacke", name = "bay-2" }
method = { file = "example" }
angle = { source = "marks", marks_deg = [0.0, 120.0, 240.0] }
[[gauge]]
id = "indicator-1"
profile = "line-mm"
port = "socket://127.0.0.1:9"
resolution_mm = 0.001
mpe_mm = 0.004
"""


def test_a_gauge_of_the_bay(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "bay.toml"
    file.write_text(CONFIG)
    assert main(["risk", "--config", str(file), "--gauge", "indicator-1", "--json"]) == 0
    from_bay = json.loads(capsys.readouterr().out)
    assert main([*FINE, "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == from_bay
    assert main(["risk", "--config", str(file), "--gauge", "indicator-9"]) == 2
    assert "expected a gauge of" in capsys.readouterr().err


def records(path: Path, figures: list[float]) -> Path:
    rows = [f"rim,{y:.6f},,0.008,0.95" for y in figures] + ["visual,,,,", "thickness,,0.1,0.004,0.95"]
    path.write_text("\n".join(["check,true_tir_mm,true_spread_mm,u_expanded_mm,coverage", *rows]))
    return path


def test_a_prior_from_the_shops_own_records(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    figures = np.random.default_rng(14).normal(0.18, 0.04, 400).tolist()
    assert main([*FINE, "--records", str(records(tmp_path / "shop.csv", figures)), "--json"]) == 0
    own = json.loads(capsys.readouterr().out)["all_parts"]
    assert own["nonconforming"] == pytest.approx(np.mean(np.array(figures) > 0.28), abs=0.005)
    assert 0.0 < own["unclear"] < 0.05


def test_records_that_say_nothing_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    few = records(tmp_path / "few.csv", [0.1, 0.2])
    assert main([*FINE, "--records", str(few)]) == 3
    assert "(at least 10 finite figures are needed), found 2 figures" in capsys.readouterr().err
    few.write_text("check,true_tir_mm,u_expanded_mm,coverage\nrim,0.2,much,0.95\n")
    assert main([*FINE, "--records", str(few)]) == 3
    assert ":2: true_tir_mm: expected a figure" in capsys.readouterr().err
    assert main([*FINE, "--records", str(few), "--prior-sd-mm", "0.1"]) == 2


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--method", "no-such"], "a file or a shipped name"),
        (["--gauge", "indicator-1"], "--config FILE beside it"),
        (["--prior-mean-mm", "0.2"], "both --prior-mean-mm and --prior-sd-mm"),
        (["--prior-mean-mm", "0.2", "--prior-sd-mm", "0"], "above zero"),
        (["--resolution-mm", "0", "--mpe-mm", "0"], "above zero"),
    ],
)
def test_options_that_clash_are_usage_errors(
    options: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["risk", *options]) == 2
    assert words in capsys.readouterr().err


@pytest.mark.parametrize("option", [["--repeats", "0"], ["--mpe-mm", "-1"], ["--looks", "2.5"]])
def test_options_out_of_range_are_usage_errors(option: list[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["risk", *option])
    assert left.value.code == 2


def test_the_picture_is_a_drawing_of_the_chances(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "risk.svg"
    assert main([*FINE, "-o", str(file)]) == 0
    assert capsys.readouterr().out.endswith(f"\npicture: {file}\n")
    root = ET.fromstring(file.read_text(encoding="utf-8"))
    assert root.tag.endswith("}svg")
    words = {element.text for element in root.iter() if element.tag.endswith("}text")}
    assert {"within", "unclear", "over", "limit 0.28 mm"} <= words
    shapes = [element for element in root.iter() if element.tag.endswith("}polygon")]
    assert [shape.get("class") for shape in shapes] == ["within", "unclear", "over"]


def test_where_the_picture_went_is_no_part_of_the_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "risk.svg"
    assert main([*FINE, "-o", str(file), "--json"]) == 0
    printed = capsys.readouterr()
    assert json.loads(printed.out)["check"] == "rim"
    assert printed.err == f"picture: {file}\n"


def test_a_picture_needs_figures_that_increase() -> None:
    row = Chances(0.28, 0.5, 0.0, 0.5)
    with pytest.raises(ValueError, match="increasing"):
        risk_svg([row, row], 0.28, "rim", "")
    svg = risk_svg([row, Chances(0.29, 0.0, 0.0, 1.0)], 0.5, "a < b", "&")
    assert "a &lt; b" in svg
    assert 'class="limit"' not in svg  # outside what is drawn
    assert ">unclear<" not in svg  # a band that thin has no name


@pytest.mark.parametrize(
    ("low", "high", "ticks"),
    [
        (0.2687, 0.2913, ["0.270", "0.275", "0.280", "0.285", "0.290"]),
        (0.24, 0.32, ["0.24", "0.26", "0.28", "0.30", "0.32"]),
        (1.3, 12.7, ["2", "4", "6", "8", "10", "12"]),
    ],
)
def test_the_axis_has_round_figures(low: float, high: float, ticks: list[str]) -> None:
    rows = [Chances(low, 1.0, 0.0, 0.0), Chances(high, 0.0, 0.0, 1.0)]
    drawn = ET.fromstring(risk_svg(rows, 0.5 * (low + high), "rim", ""))
    labels = [text.text for text in drawn.iter("{http://www.w3.org/2000/svg}text")]
    assert [label for label in labels if label and label.replace(".", "").isdecimal()] == ticks
