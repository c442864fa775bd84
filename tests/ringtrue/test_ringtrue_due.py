from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from ical.calendar_stream import IcsCalendarStream

from contract.document import encode
from tests.grading.services import rim, service
from tests.parts.issuing import IssuingBay
from tests.parts.postgres import Postgres
from tests.records.filed import database
from tests.ringtrue.programme import EXAMPLES, TODAY, Run, bay, import_examples, result, store

pytestmark = pytest.mark.slow


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """The quarry, all of its trucks inspected but truck 16, whose damper is new."""
    run = bay(tmp_path, monkeypatch, capsys)
    import_examples(run)
    store(
        tmp_path,
        result("GQ-E-2207", "GQ-D-0815", date(2026, 8, 3), hours_h=10522.0, distance_km=166000.0),
        result("GQ-E-1986", "GQ-D-0417", date(2025, 12, 15), hours_h=5160.0),
        result("GQ-E-2211", "GQ-D-0822", date(2026, 9, 7)),
    )
    return run


def test_the_readme_shows_what_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    readme = (EXAMPLES.parents[1] / "README.md").read_text()
    run = bay(tmp_path, monkeypatch, capsys)
    import_examples(run)
    run("register", "event", "GQ-E-2214", "impact", "--note", "reversed into the tip wall")
    code, out, _ = run("due")
    assert (code, f"```\n{out}```\n" in readme) == (0, True), out


def test_the_most_urgent_comes_first_and_what_is_not_due_is_counted(run: Run) -> None:
    code, out, _ = run("due")
    assert code == 0
    assert out.splitlines() == [
        "engine     fleet                    day         by",
        "GQ-E-1986  water truck 3  due soon  2026-12-15  calendar",
        "    the odometer counts from 48210 km (2025-11-03): no reading of 2025-12-15 is",
        "      on record",
        "    calendar: 2026-12-15, in 19 days",
        "3 other engines not due yet: --all tells when",
    ]


def test_all_of_them_within_a_terminal(run: Run) -> None:
    code, out, _ = run("due", "--all")
    assert code == 0
    assert max(map(len, out.splitlines())) <= 80
    assert [line.split()[0] for line in out.splitlines() if line[:2] == "GQ"] == [
        "GQ-E-1986", "GQ-E-2207", "GQ-E-2211", "GQ-E-2214",
    ]  # fmt: skip
    assert "    hours: at 13 522 h; 11 785 on 2026-11-02, 1 737 h left, 13.8 h a day: about" in out


def test_none_is_due_is_the_answer_no(run: Run) -> None:
    code, out, _ = run("due", "GQ-E-2207", "GQ-E-2211")
    assert code == 1
    assert out.count("GQ-E-") == 2


def test_an_event_makes_an_engine_due_until_it_was_inspected(run: Run, tmp_path: Path) -> None:
    assert run("register", "event", "GQ-E-2211", "impact", "--date", "2026-11-20")[0] == 0
    code, out, _ = run("due", "GQ-E-2211")
    assert code == 0
    assert "due  2026-11-26  impact" in out
    store(tmp_path, result("GQ-E-2211", "GQ-D-0822", date(2026, 11, 21), hours_h=7600.0))
    assert run("due", "GQ-E-2211")[0] == 1


def test_an_inspection_to_be_measured_again_is_named(run: Run, tmp_path: Path) -> None:
    store(tmp_path, result("GQ-E-2211", "GQ-D-0822", date(2026, 11, 21), "measure-again", hours_h=7600.0))
    code, out, _ = run("due", "GQ-E-2211")
    assert (code, "due  2026-11-26  measure again" in out) == (0, True)


def test_what_cannot_be_told_is_not_the_answer_that_none_is_due(run: Run, tmp_path: Path) -> None:
    (tmp_path / "ringtrue.toml").write_text("[bay]\n")
    code, out, err = run("due")
    assert (code, out) == (3, "")
    assert "site" in err


def test_an_event_is_what_makes_it_due_as_data_too(run: Run) -> None:
    run("register", "event", "GQ-E-2211", "impact", "--date", "2026-11-20")
    (engine,) = json.loads(run("due", "GQ-E-2211", "--json")[1])["engines"]
    assert (engine["state"], engine["by"]) == ("due", "event")


def test_as_data_with_all_engines(run: Run, tmp_path: Path) -> None:
    store(tmp_path, result("GQ-E-77", "GQ-D-77", date(2026, 11, 2)))
    code, out, _ = run("due", "--json")
    data = json.loads(out)
    assert (code, data["today"], data["method"]["id"]) == (0, TODAY.isoformat(), "example")
    states = {one["engine"]: one["state"] for one in data["engines"]}
    assert states == {"GQ-E-1986": "due-soon", "GQ-E-2207": "ok", "GQ-E-2211": "ok", "GQ-E-2214": "ok"}
    truck = next(one for one in data["engines"] if one["engine"] == "GQ-E-2207")
    assert truck["counts_from"] == {"date": "2026-08-03", "inspection": "GQ-E-2207-2026-08-03"}
    hours = next(part for part in truck["parts"] if part["by"] == "hours")
    assert (hours["at_h"], hours["last_h"], hours["left_h"]) == (13522.0, 11785.0, 1737.0)
    assert hours["earliest"] < hours["day"] < hours["latest"]
    assert data["notes"] == [
        "1 engine with inspections on record, not in the register: GQ-E-77: import it to have it told"
    ]


def test_a_clock_that_stands_before_what_the_register_has_is_told(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By a battery that is empty nothing was due for a quarter of a century."""
    monkeypatch.setattr("tests.ringtrue.programme.TODAY", date(2000, 1, 1))
    out = run("due", "--json")[1]
    assert json.loads(out)["notes"][0] == (
        "by this machine's clock it is 2000-01-01, and the register has something of 2026-11-02: set the "
        "clock, or mend that day"
    )


def test_a_calendar_is_written_beside(run: Run) -> None:
    code, out, err = run("due", "--json", "--ical", "due.ics")
    assert (code, json.loads(out)["today"], err) == (0, TODAY.isoformat(), "calendar: due.ics\n")
    calendar = IcsCalendarStream.calendar_from_ics(Path("due.ics").read_bytes().decode())
    assert sorted(str(event.dtstart) for event in calendar.events) == [
        "2026-12-15", "2027-03-08", "2027-09-07", "2027-09-07",
    ]  # fmt: skip
    assert run("due", "--ical", "due.ics")[1].splitlines()[-1] == "calendar: due.ics"
    again = IcsCalendarStream.calendar_from_ics(Path("due.ics").read_bytes().decode())
    assert {event.uid for event in again.events} == {event.uid for event in calendar.events}


def test_a_falling_counter_of_inspections_is_one_sentence_and_the_others_go_on(
    run: Run, tmp_path: Path
) -> None:
    Path("more.csv").write_text("engine,fleet\nGQ-E-3001,loader 2\n")
    run("register", "import", "engines", "more.csv")
    store(
        tmp_path,
        result("GQ-E-3001", "GQ-D-9", date(2026, 5, 4), hours_h=12000.0),
        result("GQ-E-3001", "GQ-D-9", date(2026, 8, 3), hours_h=1250.0),
    )
    code, out, _ = run("due")
    assert code == 0
    assert "GQ-E-3001  loader 2       unknown" in out
    assert " ".join(out.split()).count("the hour meter falls from 12000 h (2026-05-04, inspection") == 1
    assert "GQ-E-1986" in out


def test_an_engine_without_anything_on_record_is_unknown_in_one_sentence(run: Run) -> None:
    Path("more.csv").write_text("engine\nGQ-E-3001\n")
    run("register", "import", "engines", "more.csv")
    code, out, _ = run("due", "GQ-E-3001")
    assert code == 0
    assert out.splitlines() == [
        "engine     fleet           day  by",
        "GQ-E-3001  –      unknown  –    –",
        "    neither an inspection that counts nor the fitting of its damper is on",
        "      record: inspect it, or import the fitting",
    ]


def test_an_engine_that_is_not_in_the_register_is_a_usage_error(run: Run) -> None:
    code, _, err = run("due", "GQ-E-9")
    assert (code, err.count("\n")) == (2, 1)
    assert "ENGINE: expected an engine of the register (GQ-E-1986, GQ-E-2207," in err
    assert err.endswith("found GQ-E-9\n")


def test_without_a_register_it_says_how_to_make_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    run = bay(tmp_path, monkeypatch, capsys)
    code, _, err = run("due")
    assert (code, "`ringtrue register import engines FILE` makes it" in err) == (3, True)
    store(tmp_path, result("GQ-E-77", "GQ-D-77", date(2026, 11, 2)))
    code, _, err = run("due")
    assert (code, err) == (
        3,
        "ringtrue: the register holds no engine yet: ringtrue register import engines FILE\n",
    )


def test_with_a_method_and_records_named_no_configuration_is_needed(run: Run) -> None:
    Path("ringtrue.toml").unlink()
    code, out, _ = run("due", "--records", "sqlite:///var/records.db", "--method", "example")
    assert (code, "GQ-E-1986" in out) == (0, True)


@pytest.mark.parametrize(
    ("named", "missing"),
    [
        (
            [],
            "--method FILE (by which an engine is due) and --records URL (whose register names the engines)",
        ),
        (["--records", "sqlite:///register.db"], "--method FILE (by which an engine is due)"),
    ],
)
def test_of_a_fleet_it_says_what_its_results_do_not_hold(named: list[str], missing: str, run: Run) -> None:
    Path("ringtrue.toml").unlink()
    code, _, err = run("due", "--writer", "writer.toml", *named)
    said = f"{missing} beside it, or --config FILE of a bay or shop"
    assert (code, err) == (2, f"ringtrue: --writer: expected {said}, found neither\n")


@pytest.mark.parametrize("is_fitting_known", [True, False])
def test_a_rising_figure_brings_the_inspection_forward_with_its_reason(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    is_fitting_known: bool,
) -> None:
    run = bay(tmp_path, monkeypatch, capsys)
    if is_fitting_known:
        import_examples(run)
    else:
        assert run("register", "import", "engines", str(EXAMPLES / "engines.csv"))[0] == 0
    store(
        tmp_path,
        *(
            encode(service(f"i-{n}", day, hours_h=hours_h, rim=rim(figure_mm)))
            for n, (day, hours_h, figure_mm) in enumerate(
                (
                    ("2026-05-04", 9_280.0, 0.17),
                    ("2026-08-03", 10_522.0, 0.20),
                    ("2026-11-02", 11_785.0, 0.235),
                )
            )
        ),
    )
    _, out, _ = run("due", "GQ-E-2207")
    assert "put forward by the trend of its figures: rim: its chance of being over" in " ".join(out.split())
    _, told, _ = run("due", "GQ-E-2207", "--json")
    (engine,) = json.loads(told)["engines"]
    (hours,) = (part for part in engine["parts"] if part["by"] == "hours")
    assert 11_785 + 750 <= hours["at_h"] < 11_785 + 3_000


def test_of_a_fleet_by_what_its_writers_filed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], postgres: Postgres
) -> None:
    """Results of several bays from the writers' database, by the register of here. What no bay's key signed
    puts no inspection off."""
    run = bay(tmp_path, monkeypatch, capsys)
    import_examples(run)
    messages, documents = [], []
    for number, (engine, damper, day) in enumerate(
        (("GQ-E-2207", "GQ-D-0815", "2026-08-03"), ("GQ-E-1986", "GQ-D-0417", "2025-12-15"))
    ):
        issuing = IssuingBay(f"bay-{number}")
        said: dict[str, Any] = {
            "engine": {"serial": engine},
            "damper": {"serial": damper},
            "opened": f"{day}T08:00:00.000Z",
        }
        messages += issuing.issue(f"truck-{number}", **said)
        documents.append(messages[-4][1])
    forged = issuing.document("truck-1", 99, **said | {"opened": "2026-11-20T08:00:00.000Z"})
    with database(postgres) as db:
        assert db.filing().file([*messages, forged]).results == 3
        (tmp_path / "database.password").write_text("secret")
        (tmp_path / "writer.toml").write_text(
            'schema = "ringtrue/writer/1"\n[source]\nkind = "mqtt"\nurl = "mqtt://127.0.0.1:1"\n[records]\n'
            f'url = "{db.url.replace(":secret@", "@")}"\npassword_file = "database.password"\n'
        )
        code, out, _ = run("due", "--writer", "writer.toml", "--json")
        assert "not counted: 1 result" in run("due", "--writer", "writer.toml")[1]
        # Found by the last bay after its `keep`, while its clock stood years back.
        back = said | {"opened": "2000-01-01T00:00:01.000Z"}
        db.filing().file(issuing.issue("found-bad", verdict="replace", **back))
        code_back, out_back, _ = run("due", "GQ-E-1986", "--writer", "writer.toml", "--json")
    assert (code_back, json.loads(out_back)["engines"][0]["by"]) == (0, "verdict")
    told = json.loads(out)
    assert told.pop("notes") == [
        "not counted: 1 result without its record in the chain (ringtrue writer --status)"
    ]
    store(tmp_path, *documents)
    code_here, out_here, _ = run("due", "--json")
    here = json.loads(out_here)
    assert (here.pop("notes"), code_here, here) == ([], code, told)
