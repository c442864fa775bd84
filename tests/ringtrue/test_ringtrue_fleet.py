"""`ringtrue fleet`, on records of several bays."""

from __future__ import annotations

import json
from contextlib import closing
from pathlib import Path

import pytest

from contract.document import encode
from contract.topics import Topics
from grading.fleet.looked import looked_of
from records.store import Store
from ringtrue.cli import main
from ringtrue.fleets import compared_told
from tests.grading.services import rim, service
from tests.parts.issuing import IssuingBay, put_on_record
from tests.parts.postgres import Postgres
from tests.records.filed import database
from tests.ringtrue.quarry_fleet import HIGH_MM, keep_fleet, results


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> str:
    url = f"sqlite:///{tmp_path_factory.mktemp('fleet')}/records.db"
    keep_fleet(url)
    return url


def said(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["fleet", *words]) == 0
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 80
    return out


@pytest.mark.slow
def test_the_bay_that_reads_high_is_named_and_the_lone_one_is_not_compared(
    records: str, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = said(capsys, "bays", "--records", records).splitlines()
    (high,) = (line for line in lines if line.endswith(" high"))
    assert high.split()[:2] == ["bay-2", "10"]
    joined = " ".join(" ".join(lines).split())
    assert "greywacke/bay-9 cannot be compared: it shares no damper with another" in joined
    assert main(["fleet", "bays", "--records", records, "--json"]) == 0
    (told,) = json.loads(capsys.readouterr().out)["bays"]
    first = told["readers"][0]
    assert (first["reader"], first["reads"], first["group"]) == ("greywacke/bay-2", "high", 1)
    assert first["offset_mm"][1] < HIGH_MM < first["offset_mm"][2]
    assert told["readers"][-1]["why_none"].startswith("it shares no damper")
    assert "group" not in told["readers"][-1]


@pytest.mark.parametrize(("dampers", "reads"), [(1, None), (2, None), (3, "high")])
def test_no_bay_is_accused_by_one_damper_or_two(dampers: int, reads: str | None) -> None:
    """They may have been knocked in between: read 0.1 mm at one bay, 0.4 mm at the other the same day."""
    looked = [
        looked_of(
            service(f"q-{n}-{bay}", "2026-03-11", damper=f"GQ-D-{n}", rim=rim(mm)).model_copy(
                update={"bay": bay}
            )
        )
        for n in range(dampers)
        for bay, mm in (("bay-1", 0.1), ("bay-2", 0.4))
    ]
    ((told,), *_) = [compared_told(looked, "bay")]
    high = next(one for one in told.readers if one.reader == "greywacke/bay-2")
    assert high.offset_mm is not None
    assert (high.shared, high.reads) == (dampers, reads)


@pytest.mark.slow
def test_gauges_are_told_apart_by_their_bays(records: str, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, "gauges", "--records", records, "--unit", "in")
    assert "  bay-2 indicator-2 " in out
    assert out.startswith("rim at greywacke, in: ")


@pytest.mark.slow
def test_the_damper_that_is_near_its_limit_is_told_first(
    records: str, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = said(capsys, "drift", "--records", records).splitlines()
    assert lines[0].startswith("12 dampers with a trend, ")
    assert lines[2].split()[:2] == ["GQ-D-803", "rim"]
    assert "now" in lines[2]
    assert main(["fleet", "drift", "--records", records, "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["drift"]["rows"]
    assert rows[0]["rising"]
    assert rows[0]["early"] <= 0
    assert rows[0]["growth_mm"][1] < 0.05


@pytest.mark.slow
def test_outcomes_stand_under_their_methods(records: str, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, "methods", "--records", records)
    assert "quarry 1 (11111111): 2022-01-11 to 2023-09-11" in out
    assert "against quarry 1, points" in out
    assert main(["fleet", "methods", "--records", records, "--json"]) == 0
    first, then = json.loads(capsys.readouterr().out)["methods"]
    assert first["inspections"] == then["inspections"] == 24
    assert first["endings"]["keep"]["share"][0] == 1.0
    assert "differs" not in first["endings"]["keep"]


@pytest.mark.slow
def test_a_writer_s_database_tells_the_same(
    records: str, postgres: Postgres, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with database(postgres) as db:
        bays: dict[str, IssuingBay] = {}
        messages = []
        first = next(results())
        for one in (first.model_copy(update={"revision": 2, "verdict": "replace"}), *results()):
            if one.bay not in bays:
                bays[one.bay] = IssuingBay(one.bay, site=one.site)
                messages.append(bays[one.bay].begin())
            document = Topics(one.site, one.bay).inspection_result(one.inspection), encode(one)
            messages += [document, bays[one.bay].record(document)]
        assert db.filing().file(messages).results == (len(messages) - len(bays)) // 2
        writer = tmp_path / "writer.toml"
        writer.write_text(
            'schema = "ringtrue/writer/1"\n[source]\nkind = "mqtt"\nurl = "mqtt://127.0.0.1:1"\n'
            f'[records]\nurl = "{db.url.replace(":secret@", "@")}"\npassword_file = "password"\n'
        )
        (tmp_path / "password").write_text("secret\n")
        for what in ("drift", "bays", "gauges", "methods"):
            assert main(["fleet", what, "--records", records, "--json"]) == 0
            of_a_bay = json.loads(capsys.readouterr().out)
            assert main(["fleet", what, "--writer", str(writer), "--json"]) == 0
            assert json.loads(capsys.readouterr().out) == of_a_bay
        # With a bay's credential and not its key: no record names it, and it overrules nothing.
        forged = first.model_copy(update={"revision": 99, "verdict": "replace"})
        db.filing().file(
            [(Topics(first.site, first.bay).inspection_result(first.inspection), encode(forged))]
        )
        assert main(["fleet", "methods", "--writer", str(writer), "--json"]) == 0
        told = json.loads(capsys.readouterr().out)
        (note,) = told.pop("notes")
        assert note.startswith("1 result without its record")
        assert told["methods"] == of_a_bay["methods"]
        assert main(["fleet", "bays", "--writer", str(writer), "--records", records]) == 2


@pytest.mark.slow
def test_the_latest_is_the_one_that_the_bay_opened_last_whatever_its_clock_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It was opened while the clock stood years back; and what contradicts counts nowhere."""
    url = f"sqlite:///{tmp_path}/records.db"
    days = ("2023-03-01", "2024-03-01", "2025-03-01", "2001-01-01")
    bays = IssuingBay("bay-2"), IssuingBay("bay-3")
    grown = [
        service(f"i-{n}", day, hours_h=3_000.0 * n, rim=rim(0.10 + 0.03 * n), verdict="keep")
        for n, day in enumerate(days)
    ]
    with closing(Store(url)) as store:
        put_on_record(store, bays[0].begin())
        for one in grown:
            document = Topics(one.site, one.bay).inspection_result(one.inspection), encode(one)
            put_on_record(store, document, bays[0].record(document))
        for bay in bays:
            put_on_record(store, *bay.issue("twice", verdict="keep" if bay is bays[0] else "replace"))
    capsys.readouterr()
    assert main(["fleet", "drift", "--records", url, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [row["latest"]["inspection"] for row in told["drift"]["rows"]] == ["i-3"]
    assert [note for note in told["notes"] if "inspection twice does not count" in note] == told["notes"]
    assert main(["fleet", "methods", "--records", url, "--json"]) == 0
    (method,) = json.loads(capsys.readouterr().out)["methods"]
    assert method["inspections"] == len(grown)


@pytest.mark.slow
def test_what_cannot_be_read_is_said_and_the_rest_counts(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    url = f"sqlite:///{tmp_path}/records.db"
    store = Store(url)
    store.put(encode(service("i-1", "2025-01-01", rim=rim(0.1))))
    newer = json.loads(encode(service("i-2", "2025-01-02", rim=rim(0.1)))) | {"schema": "ringtrue/result/9"}
    store.put(json.dumps(newer).encode())
    store.close()
    assert main(["fleet", "methods", "--records", url]) == 0
    out = capsys.readouterr().out
    assert "1 inspection closed" in out
    assert "not counted: the record of inspection i-2 cannot be read" in out


@pytest.mark.slow
def test_nothing_on_record_is_said_in_a_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    url = f"sqlite:///{tmp_path}/records.db"
    assert main(["fleet", "bays", "--records", url]) == 3
    assert "there are no records yet" in capsys.readouterr().err
    store = Store(url)
    store.held("greywacke", "bay-2")  # makes the file
    store.close()
    for what, line in (
        ("bays", "no figure that counts is on record yet"),
        ("methods", "no inspection on record was closed yet"),
        ("drift", "0 dampers with a trend, 0 to be told of; 0 dampers without one yet"),
    ):
        assert main(["fleet", what, "--records", url]) == 0
        assert capsys.readouterr().out.strip() == line
    with pytest.raises(SystemExit) as left:
        main(["fleet", "gears"])
    assert left.value.code == 2
