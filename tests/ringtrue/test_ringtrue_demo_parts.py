from __future__ import annotations

import sys
import tomllib
from contextlib import closing
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from acquire.journal.reader import JournalReader
from config.bay import read_bay
from config.files import shipped
from config.method import Method
from config.toml import read_toml
from contract.document import decode
from contract.gauge import GaugeFacts
from contract.header import DamperPart, EnginePart, Header
from contract.item import Item
from contract.live import Live
from grading.assess import assess
from grading.evidence import Inspection, Observed, Sweep
from records.pictures.turn import picture
from ringtrue.demo_folder import ENCODER, INDICATOR, DemoError, DemoFolder
from ringtrue.demo_report import live_text, opening
from ringtrue.demonstration import write_report
from simulators.rig import HAUL_TRUCK_DAMPER
from tests.ringtrue.copied_bay import make_bay


def test_the_folder_is_made_and_its_configuration_is_a_sound_one(tmp_path: Path) -> None:
    folder = DemoFolder(tmp_path / "a b" / 'quarry "2"')
    settings = folder.prepare().settings
    assert [gauge.id for gauge in settings.gauge] == [INDICATOR, ENCODER]
    assert settings.gauge[0].port == str(folder.port(INDICATOR))
    assert settings.journal.path.parent == folder.log.parent
    tomllib.loads(folder.config.read_text())


def test_a_second_run_keeps_what_is_there(tmp_path: Path) -> None:
    folder = DemoFolder(tmp_path)
    folder.prepare()
    (tmp_path / "var" / "journal.db").write_text("kept")
    (tmp_path / "pictures" / "one.svg").write_text("kept")
    DemoFolder(tmp_path).prepare()
    assert (tmp_path / "var" / "journal.db").read_text() == "kept"
    assert (tmp_path / "pictures" / "one.svg").read_text() == "kept"


def test_a_configuration_of_somebody_elses_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "bay.toml").write_text("[bay]\n")
    with pytest.raises(DemoError, match="not the demo's own file"):
        DemoFolder(tmp_path).prepare()
    assert (tmp_path / "bay.toml").read_text() == "[bay]\n"
    assert [file.name for file in tmp_path.iterdir()] == ["bay.toml"]


def test_a_folder_that_cannot_be_written_is_named_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(DemoError) as refused:
        DemoFolder(tmp_path / "file").prepare()
    assert str(refused.value).startswith(f"{tmp_path / 'file'} cannot be written (")
    assert "\n" not in str(refused.value)


def test_two_demonstrations_do_not_share_a_folder(tmp_path: Path) -> None:
    folder = DemoFolder(tmp_path)
    folder.prepare()
    with folder.alone(), pytest.raises(DemoError, match="another demo runs"), DemoFolder(tmp_path).alone():
        pass
    with DemoFolder(tmp_path).alone():
        pass


def test_the_live_line_says_angle_value_deviation_and_coverage() -> None:
    live = Live(
        check="rim",
        angle_deg=123.44,
        value_mm=-0.0451,
        max_deviation_mm=0.1234,
        covered_deg=125.6,
        limit_mm=0.28,
    )
    text = live_text(live)
    assert text == "rim           123.4°  -0.045 mm  run-out so far 0.123 of 0.280 mm  covered 126°"
    assert len(text) < 80
    assert live_text(live.model_copy(update={"angle_deg": None})).startswith(
        "rim               ?°  -0.045 mm"
    )


@pytest.mark.parametrize("columns", [80, 200])
def test_the_opening_fits_the_terminal(
    columns: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    opening(DemoFolder(Path("ringtrue-demo")), "haul truck 14", "GQ-E-2207", "GQ-D-0815")
    text = capsys.readouterr().out
    assert 70 < max(map(len, text.splitlines())) <= min(columns, 100)
    assert "locked out and tagged" in " ".join(text.split())


def evidence(**attempts: tuple[Sweep | Observed, ...]) -> Inspection:
    return Inspection(
        id="i",
        revision=1,
        state="open",
        header=Header(
            site="greywacke",
            bay="bay-2",
            scope="on-engine",
            engine=EnginePart(serial="GQ-E-2207"),
            damper=DamperPart(serial="GQ-D-0815"),
            opened="2026-03-02T06:00:00.000Z",
        ),
        attempts=dict(attempts),
    )


def test_the_picture_shows_what_was_swept_with_its_outcome() -> None:
    method = read_toml(shipped("methods", "example"), Method)
    angles = np.arange(0.0, 366.0, 1.0)
    values = np.array([HAUL_TRUCK_DAMPER.rim_mm(float(angle)) for angle in angles])
    sweep = Sweep(
        "rim",
        angles,
        values,
        np.full_like(angles, 0.05),
        angles / 20.0,
        GaugeFacts("indicator-1", 0.001, 0.004),
    )
    swept = evidence(rim=(sweep,), visual=(Observed((Item("leak", "good"),)),))
    result = assess(swept, method)
    assert result.checks.rim is not None
    drawn = picture(swept, result)
    assert drawn is not None
    said = " ".join(" ".join(ElementTree.fromstring(drawn).itertext()).split())
    for part in (
        "GQ-D-0815",
        "GQ-E-2207",
        result.verdict,
        f"rim: {result.checks.rim.outcome}",
        "366 readings",
        f"{result.checks.rim.true_tir_mm:.3f} ± {result.checks.rim.u_expanded_mm:.3f}",
        f"a dial shows {result.checks.rim.tir_mm:.3f} mm",
        f"Inspection {result.inspection}, open, not signed",
        "method example 1: example limits",
        "example limit 0.280",
        "gauge indicator-1, step 0.001 mm",
    ):
        assert part in said
    assert "face" not in said


def test_the_picture_names_the_signer_and_calls_no_other_method_an_example() -> None:
    data = tomllib.loads(shipped("methods", "example").read_text())
    method = Method.model_validate({**data, "id": "quarry", "version": "3"})
    angles = np.arange(0.0, 366.0, 1.0)
    values = np.array([HAUL_TRUCK_DAMPER.rim_mm(float(angle)) for angle in angles])
    gauge = GaugeFacts("indicator-1", 0.001, 0.004, "2027-06-01")
    sweep = Sweep("rim", angles, values, np.full_like(angles, 0.05), angles / 20.0, gauge)
    swept = evidence(rim=(sweep,))
    result = assess(swept, method).model_copy(update={"state": "signed", "signed_by": "R. Example"})
    drawn = picture(swept, result)
    assert drawn is not None
    said = " ".join(" ".join(ElementTree.fromstring(drawn).itertext()).split())
    assert "signed by R. Example; method quarry 3" in said
    assert "calibration due 2027-06-01" in said
    assert "example" not in said


def test_without_a_sweep_there_is_no_picture() -> None:
    method = read_toml(shipped("methods", "example"), Method)
    looked = evidence(visual=(Observed((Item("leak", "good"),)),))
    assert picture(looked, assess(looked, method)) is None


def test_where_no_pdf_can_be_made_the_report_is_html(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    files = read_bay(make_bay(tmp_path, journal_version=3), {})
    with closing(JournalReader(files.settings.journal.path)) as journal:
        kept = journal.latest_result()
    assert kept is not None
    monkeypatch.setitem(sys.modules, "typst", None)
    file = write_report(tmp_path, files, decode(kept.document))
    assert file == tmp_path / "report.html"
    assert "INCOMPLETE" in file.read_text(encoding="utf-8")
