"""A `keep` that does not stand is said to be so wherever it is told, as `due` says it."""

from __future__ import annotations

import json
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from config.settings import read_settings
from contract.document import encode
from contract.result import Result
from records.order import Order
from records.register.columns import Row
from records.register.merging import Incoming
from records.register.register import Register
from records.store import Store
from ringtrue.cli import main
from ringtrue.fleets import fleet_told
from ringtrue.showing import Showing
from tests.grading.services import rim, service, thickness

pytestmark = pytest.mark.slow

GROWN = [
    service(f"GQ-{n}", f"202{n}-03-01", hours_h=3_000.0 * n, rim=rim(0.10 + 0.03 * n)) for n in (1, 2, 3)
]
BULGED = service(
    "GQ-4", "2024-03-01", due=False, thickness=thickness(0.4).model_copy(update={"outcome": "over"})
)
TURNED = service("GQ-5", "2024-03-03", hours_h=12_000.0, rim=rim(0.22))
VISCOUS: Row = {"damper": "GQ-D-0815", "family": "viscous", "construction": "rolled"}
WHY = (
    "inspection GQ-5 of 2024-03-03 does not count: inspection GQ-4 ended in replace by its thickness, which "
    "this did not make again"
)


def records(folder: Path, *results: Result) -> str:
    url = f"sqlite:///{folder}/records.db"
    with closing(Store(url)) as store:
        for result in results:
            store.put(encode(result))
    return url


def showing(folder: Path, url: str) -> Showing:
    config = folder / "ringtrue.toml"
    config.write_text(
        f'[bay]\nsite = "greywacke"\nname = "bay-2"\n[records]\nurl = "{url}"\n[method]\nfile = "example"\n'
        '[angle]\nsource = "dwells"\nmarks_deg = [0, 120, 240]\n'
    )
    return Showing(read_settings(config, {}))


def test_a_history_says_that_the_latest_keep_does_not_count(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    url = records(tmp_path, *GROWN, BULGED, TURNED)
    assert main(["history", "GQ-D-0815", "--records", url]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert WHY in said
    assert "next due: not said, as the latest inspection ended in replace" in said
    assert "at the next due" not in said
    told = showing(tmp_path, url).history("GQ-D-0815")
    assert told is not None
    assert (told.verdict, told.next_due, told.uncounted) == ("replace", None, (WHY,))
    assert [one.uncounted for one in told.inspections] == [WHY, None, None, None, None]
    (row,) = showing(tmp_path, url).fleet(date(2024, 6, 1)).rows
    assert row.last is not None
    assert (row.last.uncounted, row.amiss) == (WHY, (WHY,))


def test_who_drifts_hears_no_next_due_of_a_keep_that_does_not_count(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    url = records(tmp_path, *GROWN, BULGED, TURNED)
    assert main(["fleet", "drift", "--records", url]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert WHY in said
    assert "at the next due" not in said
    (row,) = showing(tmp_path, url).compared().drifts.rows
    assert (row.services, row.due, row.uncounted) == (4, None, (WHY,))


def test_who_drifts_hears_no_next_due_of_a_keep_before_a_contested_replace() -> None:
    torn = Order({}, {"GQ-4": "quarry/bay-2, quarry/bay-3"})

    def due(*results: Result) -> list[object]:
        return [row.due for row in fleet_told(map(encode, results), torn, {}).drifts.rows]

    assert due(*GROWN) == [12_000.0]
    assert due(*GROWN, BULGED) == [None]
    assert due(*GROWN, BULGED, service("GQ-6", "2024-04-01", thickness=thickness(0.1))) == [None]
    again = service("GQ-7", "2024-05-01", hours_h=12_000.0, rim=rim(0.22), thickness=thickness(0.1))
    assert due(*GROWN, BULGED, again) == [15_000.0]


def test_a_keep_of_another_family_is_told_once_the_register_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The one before it stands, as in `due`; a display that read the records before looks anew."""
    last = GROWN[-1]
    last = last.model_copy(update={"damper": last.damper.model_copy(update={"family": "rubber"})})
    url = records(tmp_path, *GROWN[:2], last)
    shown = showing(tmp_path, url)
    assert shown.compared().drifts.rows[0].due == 12_000.0
    with closing(Register(url)) as register:
        assert not register.put("dampers", [Incoming(1, VISCOUS)]).wrong
    capsys.readouterr()
    assert main(["history", "GQ-D-0815", "--records", url, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["next_due"]["hours_h"] == 9_000.0
    (why,) = found["uncounted"]
    assert "it judged damper GQ-D-0815 as rubber, and the register says viscous" in why
    (row,) = shown.compared().drifts.rows
    assert (row.due, row.uncounted) == (9_000.0, (why,))


def test_where_no_keep_stands_that_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    last = TURNED.model_copy(update={"damper": TURNED.damper.model_copy(update={"family": "rubber"})})
    url = records(tmp_path, last)
    with closing(Register(url)) as register:
        assert not register.put("dampers", [Incoming(1, VISCOUS)]).wrong
    assert main(["history", "GQ-D-0815", "--records", url]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "inspection GQ-5 of 2024-03-03 does not count" in said
    assert "next due: not said, as no inspection of it counts" in said


def test_a_damper_s_past_is_told_under_its_serial_in_whatever_capitals(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No register said that it was typed otherwise, and it was kept without a word."""
    strange = service("GQ-8", "2024-03-04", engine="GQ-E-2208", damper="GQ-D-0816", rim=rim(0.1))
    turned = TURNED.model_copy(update={"damper": TURNED.damper.model_copy(update={"serial": "gq-d-0815"})})
    url = records(tmp_path, *GROWN, BULGED, turned, strange)
    shown = showing(tmp_path, url)
    for serial, name in (("GQ-D-0815", "GQ-D-0815"), ("gq-d-0815", "gq-d-0815"), ("gq-D-0815", "gq-d-0815")):
        told = shown.history(serial)
        assert told is not None
        assert (told.damper, told.verdict, told.uncounted) == (name, "replace", (WHY,))
        assert [one.inspection for one in told.inspections] == ["GQ-5", "GQ-4", "GQ-3", "GQ-2", "GQ-1"]
    rows = shown.fleet(date(2024, 6, 1)).rows
    assert [(row.damper, row.amiss) for row in rows] == [("gq-d-0815", (WHY,)), ("GQ-D-0816", ())]
    (row,) = shown.compared().drifts.rows
    assert (row.damper, row.services, row.due, row.uncounted) == ("gq-d-0815", 4, None, (WHY,))
    capsys.readouterr()
    config, out = tmp_path / "ringtrue.toml", tmp_path / "out.html"
    assert main(["report", "GQ-5", "--config", str(config), "--html", "-o", str(out)]) == 0
    assert "DOES NOT COUNT" in out.read_text()


def test_a_keep_against_its_verdict_is_told_as_that(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It stood there as any other, and its next due as not said because it had ended in keep."""
    signed = BULGED.model_copy(update={"decision": "keep"})
    url = records(tmp_path, *GROWN, signed)
    assert main(["history", "GQ-D-0815", "--records", url]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "latest inspection: keep, signed against the verdict replace" in said
    assert said.endswith(
        "next due: not said, as the latest inspection names none: `ringtrue due` tells the day"
    )
    told = showing(tmp_path, url).history("GQ-D-0815")
    assert told is not None
    assert (told.verdict, told.against) == ("keep", "replace")
    with closing(Store(url)) as store:
        store.put(encode(service("GQ-9", "2025-03-01", thickness=thickness(0.1))))
    told = showing(tmp_path, url).history("GQ-D-0815")
    assert told is not None
    assert (told.verdict, told.against) == ("keep", None)
