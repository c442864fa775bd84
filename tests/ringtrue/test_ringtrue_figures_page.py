"""The page that explains the figures is executed: what it shows is what the tool says."""

from __future__ import annotations

import csv
import doctest
import json
import re
import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from contract.result import (
    BudgetPart,
    FeaturePart,
    HarmonicPart,
    ItemPart,
    ObservedCheck,
    Result,
    StationPart,
    SurfaceCheck,
    ThicknessCheck,
)
from ringtrue.cli import main

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs/figures.md").read_text()
EXAMPLE = "examples/rim-truck-14.csv"


@pytest.fixture(autouse=True)
def _in_the_checkout(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", PAGE, re.MULTILINE | re.DOTALL)


@pytest.mark.parametrize("block", blocks("console"))
def test_the_commands_say_what_the_page_shows(block: str, capsys: pytest.CaptureFixture[str]) -> None:
    command, _, shown = block.partition("\n")
    assert main(shlex.split(command)[2:]) == 0
    assert capsys.readouterr().out == shown


@pytest.fixture
def example(capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    main(["grade", EXAMPLE, "--check", "rim", "--json"])
    check: dict[str, Any] = json.loads(capsys.readouterr().out)
    return check


def test_the_worked_example_works(example: dict[str, Any]) -> None:
    lines = [line for line in Path(EXAMPLE).read_text().splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))

    def column(name: str) -> list[float]:
        return [float(row[name]) for row in rows]

    names: dict[str, Callable[[str], Any]] = {
        "column": column,
        "figure": lambda key: example[key],
        "budget": lambda _check: example["budget"],
    }
    text = "\n".join(blocks("python"))
    test = doctest.DocTestParser().get_doctest(text, dict(names), "figures", "docs/figures.md", 0)
    assert len(test.examples) > 10
    report: list[str] = []
    failed, _ = doctest.DocTestRunner(verbose=False).run(test, out=report.append)
    assert failed == 0, "".join(report)


@pytest.mark.parametrize(
    "part",
    [
        Result,
        SurfaceCheck,
        ThicknessCheck,
        ObservedCheck,
        HarmonicPart,
        BudgetPart,
        FeaturePart,
        ItemPart,
        StationPart,
    ],
)
def test_every_key_of_the_document_is_on_the_page(part: type[Any]) -> None:
    told = set(re.findall(r"`([\w-]+)`", PAGE)) | set(re.findall(r"[a-z]+", PAGE))
    keys = {field.alias or name for name, field in part.model_fields.items()}
    # What names itself: the schema, whose value is in the document, and a feature's or station's place.
    plain = {"schema", "station_deg", "angle_deg", "width_deg", "height_mm", "seen", "item"}
    assert keys - told - plain == set()


def test_every_source_in_the_budget_of_the_example_is_on_the_page(example: dict[str, Any]) -> None:
    for line in example["budget"]:
        assert re.split(r" \(| of [\d.]+ mm", line["source"])[0] in PAGE
