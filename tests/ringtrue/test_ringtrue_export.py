from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from contextlib import closing, suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from records.chained import put_record
from records.errors import RecordRefusedError
from records.store import Store
from ringtrue.cli import main
from tests.parts.issuing import IssuingBay
from tests.records.qif_schema import faults
from tests.records.reported import whole
from tests.ringtrue.inspected_bay import CONFIG


def document(inspection: str, verdict: str = "keep") -> bytes:
    result = {
        "schema": "ringtrue/result/1",
        "inspection": inspection,
        "revision": 1,
        "state": "closed",
        "site": "greywacke",
        "bay": "bay-2",
        "engine": {"serial": "GQ-E-2207"},
        "damper": {"serial": "GQ-D-0815"},
        "opened": "2026-11-02T06:00:00.000Z",
        "verdict": verdict,
        "checks": {"visual": {"outcome": "good", "reason": "all seen, all good"}},
    }
    return json.dumps(result).encode()


def days_from(start: datetime) -> Iterator[datetime]:
    while True:
        yield start
        start += timedelta(days=1)


@pytest.fixture
def bay(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The current folder: a bay with two records, of the first and second of November."""
    (tmp_path / "ringtrue.toml").write_text(CONFIG)
    clock = days_from(datetime(2026, 11, 1, 12, 0, tzinfo=UTC))
    store = Store(f"sqlite:///{tmp_path}/var/records.db", utc=lambda: next(clock))
    store.put(document("GQ-1"))
    store.put(document("GQ-2", "replace"))
    store.close()
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_json_by_default_from_the_configured_records(bay: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["export"]) == 0
    assert [one["inspection"] for one in json.loads(capsys.readouterr().out)] == ["GQ-1", "GQ-2"]


def test_csv(bay: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["export", "--format", "csv"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert [(row["inspection"], row["check"], row["verdict"]) for row in rows] == [
        ("GQ-1", "visual", "keep"),
        ("GQ-2", "visual", "replace"),
    ]


@pytest.mark.parametrize(
    ("since", "expected"),
    [
        ("2026-11-01", ["GQ-1", "GQ-2"]),
        ("2026-11-02", ["GQ-2"]),
        ("2026-11-02T12:00:00Z", ["GQ-2"]),
        ("2026-11-02T13:00:00+01:00", ["GQ-2"]),
        ("2026-11-02T12:00:01Z", []),
    ],
)
def test_since(bay: Path, capsys: pytest.CaptureFixture[str], since: str, expected: list[str]) -> None:
    assert main(["export", "--since", since]) == 0
    assert [one["inspection"] for one in json.loads(capsys.readouterr().out)] == expected


def test_a_since_that_is_no_date_is_a_usage_error(bay: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["export", "--since", "yesterday"])
    assert left.value.code == 2
    assert "'yesterday' is no date such as 2026-11-01" in capsys.readouterr().err


def test_one_inspection_as_qif_in_a_file(bay: Path, capsys: pytest.CaptureFixture[str]) -> None:
    store = Store(f"sqlite:///{bay}/var/records.db")
    store.put(whole())
    store.close()
    name = json.loads(whole())["inspection"]
    assert main(["export", "--format", "qif", "--inspection", name, "-o", "one.qif"]) == 0
    made = (bay / "one.qif").read_bytes()
    assert faults(made) == []
    assert made.count(b"<MeasurementResults ") == 1
    assert main(["export", "--format", "qif", "--inspection", name, "-o", "one.qif"]) == 3
    assert "an export overwrites none" in capsys.readouterr().err
    assert (bay / "one.qif").read_bytes() == made


def test_parquet_goes_to_a_file_or_a_pipe(bay: Path, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    assert main(["export", "--format", "parquet", "-o", "all.parquet"]) == 0
    assert main(["export", "--format", "parquet"]) == 0
    piped = capfdbinary.readouterr().out
    assert piped[:4] == piped[-4:] == b"PAR1"
    assert (bay / "all.parquet").read_bytes() == piped


def test_parquet_is_not_thrown_at_a_terminal(
    bay: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    assert main(["export", "--format", "parquet"]) == 2
    assert "-o FILE" in capsys.readouterr().err


def test_an_inspection_that_is_not_on_record_is_said(bay: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["export", "--inspection", "GQ-9"]) == 3
    assert "no inspection 'GQ-9' is on record" in capsys.readouterr().err


def test_a_record_that_this_version_cannot_read_is_named(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["export", "--format", "qif"]) == 3  # the bay's two are shorter than any that it would write
    assert "the record of inspection GQ-1 cannot be read" in capsys.readouterr().err


def test_records_that_are_not_there_are_said_and_not_made(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["export", "--records", f"sqlite:///{bay}/other.db"]) == 3
    said = capsys.readouterr().err
    assert "there are no records yet" in said
    assert "cannot be used" not in said
    assert not (bay / "other.db").exists()


def test_results_that_contradict_are_told_beside_the_export(
    bay: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """Two bays chose one name: of theirs the first result is on record, whatever the other found."""
    with closing(Store(f"sqlite:///{bay}/var/records.db")) as store:
        for issuing, verdict in ((IssuingBay("bay-2"), "keep"), (IssuingBay("bay-3"), "replace")):
            for topic, payload in issuing.issue("GQ-7", verdict=verdict):
                if topic.endswith("/chain"):
                    put_record(store, payload, datetime.now(UTC))
                elif topic.endswith("/result"):
                    with suppress(RecordRefusedError):
                        store.put(payload)
    assert main(["export", "--format", "csv"]) == 0
    said = "export: inspection GQ-7 does not count: greywacke/bay-2, greywacke/bay-3 issued results of it"
    assert capfd.readouterr().err.startswith(said)
    assert main(["export", "--format", "csv", "--inspection", "GQ-1"]) == 0
    assert capfd.readouterr().err == ""
