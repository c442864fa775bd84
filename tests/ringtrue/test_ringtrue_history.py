from __future__ import annotations

import json
from pathlib import Path

import pytest

from contract.document import encode
from records.store import Store
from ringtrue.cli import main
from tests.grading.services import rim, service, thickness

pytestmark = pytest.mark.slow


@pytest.fixture
def records(tmp_path: Path) -> str:
    """A damper of four services, the second corrected and one abandoned; another that engine had before."""
    url = f"sqlite:///{tmp_path}/records.db"
    store = Store(url)
    for result in (
        service("old", "2020-11-01", hours_h=10, damper="GQ-D-0001", rim=rim(0.05)),
        service("i-1", "2022-11-01", hours_h=2_900, distance_km=180_000, rim=rim(0.12)),
        service(
            "i-2", "2023-11-01", hours_h=5_900, distance_km=370_000, rim=rim(0.28), thickness=thickness(0.15)
        ),
        service("i-2", "2023-11-01", hours_h=5_900, distance_km=370_000, rim=rim(0.15), revision=4),
        service("i-3", "2024-11-01", hours_h=8_900, distance_km=560_000, rim=rim(0.4, "invalid")),
        service("i-4", "2025-10-01", hours_h=11_000, distance_km=700_000, rim=rim(0.4), state="abandoned"),
        service("i-5", "2025-11-01", hours_h=11_900, distance_km=760_000, rim=rim(0.21)),
    ):
        store.put(encode(result))
    store.close()
    return url


def test_a_damper_s_services_stand_in_a_table_of_80_columns(
    records: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["history", "GQ-D-0815", "--records", records]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 80
    assert lines[:2] == [
        "damper GQ-D-0815 (rolled)",
        "  on engine GQ-E-2207: 2022-11-01 to 2025-11-01, 4 inspections",
    ]
    at = lines.index("rim: true TIR in mm")
    assert lines[at + 1 : at + 6] == [
        "  date              km        h  figure         limit  outcome  gauge",
        "  2022-11-01    180000     2900  0.120 ± 0.008  0.28   within   indicator-1",
        "  2023-11-01    370000     5900  0.150 ± 0.008  0.28   within   indicator-1",
        "  2024-11-01    560000     8900  no figure      0.28   invalid  indicator-1",
        "  2025-11-01    760000    11900  0.210 ± 0.008  0.28   within   indicator-1",
    ]
    said = " ".join(" ".join(lines).split())
    assert "by engine hours: +0.0100 mm per 1000 h" in said
    assert "at the next due (14 900 h): 0.2" in said
    assert "limit of 0.28 mm met: most likely at 18" in said
    assert "its chance comes to 5 % at" in said
    assert "thickness" not in said  # the correction took it away


def test_with_json_the_trend_comes_in_figures(records: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["history", "GQ-D-0815", "--records", records, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["damper"], found["verdict"]) == ("GQ-D-0815", "keep")
    assert found["next_due"] == {"hours_h": 14_900.0, "distance_km": 960_000.0, "date": "2026-11-01"}
    check = found["checks"]["rim"]
    assert [visit.get("figure_mm") for visit in check["visits"]] == [0.12, 0.15, None, 0.21]
    trend = check["trend"]
    assert (trend["by"], trend["rate_per"], trend["rising"]) == ("hours_h", 1000.0, True)
    median, low, high = trend["rate_mm"]
    assert low < median < high
    assert median == pytest.approx(0.01, abs=2e-4)
    assert 0 < trend["p_over_at_due"] < 0.5
    assert trend["due"] < trend["met_early"] < trend["met"]


def test_an_engine_lists_what_it_carried_and_shows_the_last(
    records: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["history", "GQ-E-2207", "--records", records]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[:6] == [
        "engine GQ-E-2207 has carried",
        "  GQ-D-0001: 2020-11-01, 1 inspection",
        "  GQ-D-0815: 2022-11-01 to 2025-11-01, 4 inspections",
        "The last one's history; of another: ringtrue history GQ-D-0001",
        "",
        "damper GQ-D-0815 (rolled)",
    ]
    assert main(["history", "GQ-E-2207", "--records", records, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [spell["serial"] for spell in found["carried"]] == ["GQ-D-0001", "GQ-D-0815"]


def test_one_service_shows_no_trend(records: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["history", "GQ-D-0001", "--records", records]) == 0
    said = capsys.readouterr().out
    assert "no trend yet: one service does not make one" in said
    assert "next due: 3 010 h or 2021-11-01, whichever comes first" in said


def test_an_unknown_serial_is_one_sentence(records: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["history", "GQ-D-9", "--records", records]) == 3
    assert capsys.readouterr().err == (
        "ringtrue: history: no inspection on record of a damper or an engine GQ-D-9; look at its plate, "
        "dashes count, and an engine's capitals\n"
    )


def test_no_records_yet_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["history", "GQ-D-9", "--records", f"sqlite:///{tmp_path}/none.db"]) == 3
    assert capsys.readouterr().err.startswith("ringtrue: history: there are no records yet")


def test_a_record_that_this_version_cannot_read_leaves_no_hole(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store = Store(f"sqlite:///{tmp_path}/records.db")
    document = json.loads(encode(service("i-1", "2022-11-01", rim=rim(0.12))))
    document["checks"]["rim"]["outcome"] = "splendid"
    store.put(json.dumps(document).encode())
    store.close()
    assert main(["history", "GQ-D-0815", "--records", f"sqlite:///{tmp_path}/records.db"]) == 3
    said = capsys.readouterr().err
    assert "the record of inspection i-1 cannot be read (checks.rim.outcome)" in said


def test_a_history_in_inches_holds_no_length_in_mm(records: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["history", "GQ-D-0815", "--records", records, "--unit", "in"]) == 0
    said = capsys.readouterr().out
    assert max(map(len, said.splitlines())) <= 80
    assert "mm" not in said
    # 0.12 mm, 0.28 mm
    assert "  2022-11-01    180000     2900  0.0047 ± 0.0003  0.0110  within   indicator-1" in said
    assert "limit of 0.0110 in met:" in said
