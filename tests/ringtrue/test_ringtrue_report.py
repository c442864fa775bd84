"""`ringtrue report` from records, journal or a file: what it finds, what it refuses, and with which code."""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from acquire.journal.reader import JournalReader
from records.store import Store
from ringtrue.cli import main
from tests.parts.issuing import IssuingBay, put_on_record
from tests.records.reported import a_document, photographed, replaced, unsigned
from tests.ringtrue.copied_bay import make_bay, records_url

INSPECTION, LATEST = "truck-14", 15


@pytest.fixture
def bay(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A bay's folder, and where the command is called."""
    make_bay(tmp_path, journal_version=3)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A result document in a folder that is no bay's."""
    (tmp_path / "in.json").write_bytes(a_document())
    monkeypatch.chdir(tmp_path)
    return "in.json"


def refused(capsys: pytest.CaptureFixture[str], code: int, *arguments: str) -> str:
    """The one line that says so."""
    before = sorted(Path().iterdir())
    capsys.readouterr()
    assert main(["report", *arguments]) == code
    out, err = capsys.readouterr()
    assert out == ""
    (line,) = [one for one in err.splitlines() if one.startswith("ringtrue: ")]
    assert sorted(Path().iterdir()) == before
    return line


def put(bay: Path, *documents: bytes) -> None:
    with closing(Store(records_url(bay))) as store:
        for document in documents:
            store.put(document)


def kept(bay: Path) -> bytes:
    with closing(JournalReader(bay / "var/journal.db")) as journal:
        found = journal.result(INSPECTION)
    assert found is not None
    return found.document


def changed(document: bytes, **values: Any) -> bytes:
    return json.dumps({**json.loads(document), **values}).encode()


def html(*arguments: str) -> str:
    assert main(["report", *arguments, "--html", "-o", "out.html"]) == 0
    return Path("out.html").read_text(encoding="utf-8")


def test_from_a_file_with_no_bay_at_all(file: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", "--result", file, "--html"]) == 0
    assert capsys.readouterr().out == (
        "truck-14-november-6.html: inspection truck-14-november, revision 6, signed: keep\n"
    )
    assert "Drawn from the harmonics of the result" in Path("truck-14-november-6.html").read_text()


@pytest.mark.slow
def test_from_a_bay_as_a_pdf_with_the_readings_of_its_journal(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["report", INSPECTION, "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["file"] == f"truck-14-{LATEST}.pdf"
    assert (said["revision"], said["state"], said["verdict"]) == (LATEST, "signed", "incomplete")
    command = ["pdftotext", "-raw", said["file"], "-"]
    text = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    assert " ".join(text.split()).count("Drawn from the readings of the journal.") == 2


@pytest.mark.parametrize("without", ["records.db", "journal.db"])
def test_records_alone_or_the_journal_alone_will_do(bay: Path, without: str) -> None:
    (bay / "var" / without).unlink()
    page = html(INSPECTION)
    drawn = "the readings of the journal" if without == "records.db" else "the harmonics of the result"
    assert f"Drawn from {drawn}" in page
    assert "INCOMPLETE" in page


def test_a_damaged_journal_is_no_obstacle_where_the_records_are_whole(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (bay / "var/journal.db").write_bytes(b"SQLite format 3\x00" + b"rubbish" * 1000)
    assert "Drawn from the harmonics of the result" in html(INSPECTION)
    assert "report without the journal" in capsys.readouterr().err
    (bay / "var/records.db").unlink()
    Path("out.html").unlink()
    assert f"{INSPECTION}: neither records nor journal" in refused(capsys, 3, INSPECTION)


def test_a_method_that_this_version_does_not_know_is_no_obstacle(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with closing(sqlite3.connect(bay / "var/journal.db")) as db, db:
        db.execute("UPDATE event SET body = json_set(body, '$.method.unknown', 1) WHERE kind = 'opened'")
    assert "Drawn from the harmonics of the result" in html(INSPECTION)
    assert "pictures without readings" in capsys.readouterr().err


def test_a_result_that_the_records_have_not_yet_is_the_one(bay: Path) -> None:
    (bay / "var/records.db").unlink()
    put(bay, changed(kept(bay), revision=LATEST - 2, state="open"))
    assert f"Report of revision {LATEST}, signed" in html(INSPECTION)


def test_an_earlier_revision_says_that_it_was_replaced(bay: Path) -> None:
    page = html(INSPECTION, "--revision", "13")
    assert "SUPERSEDED" in page
    assert f"BY REVISION {LATEST}" in page


def test_records_and_journal_that_contradict_each_other_are_no_report(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (bay / "var/records.db").unlink()
    put(bay, changed(kept(bay), signed_by="Somebody"))
    said = refused(capsys, 3, INSPECTION)
    assert "hold different documents of revision 15: ringtrue regrade truck-14 says which is right" in said


def test_readings_that_are_not_the_document_s_are_not_drawn(bay: Path) -> None:
    other = changed(kept(bay), revision=LATEST + 1, readings_sha256="00" * 32)
    put(bay, other)
    assert "Drawn from the harmonics" in html(INSPECTION)


def test_earlier_inspections_of_the_damper_are_told_and_no_others(bay: Path) -> None:
    past = a_document(inspection="last-year", opened="2025-02-03T06:00:00.000Z")
    unfinished = unsigned("open", inspection="last-year", revision=3, opened="2025-02-03T06:00:00.000Z")
    later = a_document(inspection="next-year", opened="2027-02-03T06:00:00.000Z")
    other = a_document(inspection="other", opened="2025-01-01T06:00:00.000Z", damper={"serial": "GQ-D-0816"})
    put(bay, unfinished, past, later, other)
    _, found, table = html(INSPECTION).partition("Earlier inspections of this damper, mm</h2>")
    assert found
    rows = table.partition("</table>")[0]
    assert rows.count("last-year") == 1
    assert ">keep<" in rows
    assert "next-year" not in rows
    assert "other" not in rows


def test_a_keep_whose_damper_was_condemned_since_says_so(bay: Path) -> None:
    """A report of it was made later, and said that the damper may stay on."""
    kept_once = a_document(inspection="last-year", opened="2025-02-03T06:00:00.000Z")
    put(bay, kept_once)
    assert "LATER" not in html("last-year")
    condemned = replaced(inspection="since", opened="2026-12-01T06:00:00.000Z")
    again = a_document(inspection="given-up", opened="2026-12-02T06:00:00.000Z", state="abandoned")
    put(bay, condemned, again)
    Path("out.html").unlink()
    found = html("last-year")
    assert "LATER: REPLACE" in found
    assert "Inspection since of this damper, opened later (2026-12-01 06:00 UTC), ended in replace" in found
    assert "may stay on" not in found
    put(bay, a_document(inspection="mended", opened="2026-12-03T06:00:00.000Z"))
    Path("out.html").unlink()
    assert "LATER" not in html("last-year")


def test_a_keep_that_did_not_make_again_what_condemned_its_damper_says_so(bay: Path) -> None:
    """A crack before: neither this keep takes it back, nor does it end for one that was kept before it."""
    first = a_document(inspection="first", opened="2025-01-03T06:00:00.000Z")
    cracked = a_document(
        inspection="cracked",
        opened="2025-02-03T06:00:00.000Z",
        checks={"penetrant": {"outcome": "bad", "reason": "a crack", "items": []}},
        verdict="replace",
        reasons=["a crack"],
        next_due=None,
    )
    turned = a_document(inspection="turned", opened="2025-03-03T06:00:00.000Z")
    put(bay, first, cracked, turned)
    found = html("turned")
    assert "DOES NOT COUNT" in found
    assert "inspection cracked ended in replace by its penetrant, which this did not make again" in found
    assert "may stay on" not in found
    assert "Next inspection:" not in found
    Path("out.html").unlink()
    assert "LATER: REPLACE" in html("first")


@pytest.mark.parametrize(("ended", "word"), [("replace", "REPLACE"), ("measure-again", "MEASURE AGAIN")])
def test_what_a_contested_inspection_found_amiss_is_still_told_as_later(
    bay: Path, ended: str, word: str
) -> None:
    """And a keep after it that did not make its check is none."""
    bad: dict[str, Any] = {
        "checks": {"penetrant": {"outcome": "invalid", "reason": "a line", "items": []}},
        "verdict": ended,
        "reasons": ["a line"],
        "next_due": None,
    }
    bays = [IssuingBay(f"bay-{n}") for n in (2, 3)]
    with closing(Store(records_url(bay))) as store:
        for chain in bays:
            put_on_record(store, *chain.issue("cracked", opened="2025-02-03T06:00:00.000Z", **bad))
    put(bay, a_document(inspection="first", opened="2025-01-03T06:00:00.000Z"))
    put(bay, a_document(inspection="turned", opened="2025-03-03T06:00:00.000Z"))
    assert f"LATER: {word}" in html("first")
    Path("out.html").unlink()
    assert "DOES NOT COUNT" in html("turned")


def test_of_one_bay_its_chain_says_which_came_earlier_whatever_the_clock_said(bay: Path) -> None:
    """The inspection was found while the bay's clock stood years back, and the one before it not."""
    issued = json.loads(kept(bay))
    chain = IssuingBay(issued["bay"], site=issued["site"])
    ours = chain.topics.inspection_result(INSPECTION), kept(bay)
    with closing(Store(records_url(bay))) as store:
        put_on_record(
            store, *chain.issue("last-year", opened="2027-02-03T06:00:00.000Z"), ours, chain.record(ours)
        )
    assert "last-year" in html(INSPECTION).partition("Earlier inspections of this damper, mm</h2>")[2]


def test_results_that_contradict_each_other_are_no_verdict(bay: Path) -> None:
    """Two bays chose one name, of this inspection and of one before: the first that came is on record."""
    bays = [IssuingBay(f"bay-{n}") for n in (2, 3)]
    ours = bays[0].topics.inspection_result(INSPECTION), kept(bay)
    other = ours[0], changed(ours[1], bay="bay-3")
    with closing(Store(records_url(bay))) as store:
        for chain, document in zip(bays, (ours, other), strict=True):
            past = chain.issue("last-year", opened="2025-02-03T06:00:00.000Z")
            put_on_record(store, *past, chain.record(document))
    head, _, table = html(INSPECTION).partition("Earlier inspections of this damper, mm</h2>")
    assert "CONTRADICTED" in head
    assert "greywacke/bay-2, greywacke/bay-3 issued results of this inspection" in head
    assert ">contradicted, no verdict<" in table.partition("</table>")[0]


def test_an_inspection_whose_damper_was_corrected_is_no_earlier_one(bay: Path) -> None:
    past = a_document(inspection="last-year", opened="2025-02-03T06:00:00.000Z")
    right = changed(past, revision=json.loads(past)["revision"] + 1, damper={"serial": "GQ-D-0816"})
    with closing(sqlite3.connect(bay / "var/journal.db")) as db, db:
        columns = [name for _, name, *_ in db.execute("PRAGMA table_info(result)")]
        for document in (past, right):
            said = json.loads(document) | {"document": document}
            values = [said.get(name, "2026-01-01T00:00:00.000Z") for name in columns]
            db.execute(f"INSERT INTO result VALUES ({', '.join('?' * len(columns))})", values)
    page = html(INSPECTION)
    assert "last-year" not in page


def test_photos_come_from_the_bay_s_folder_where_they_are_what_they_were(
    bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = b"\xff\xd8\xff whole"
    whole, altered = (f"{hashlib.sha256(one).hexdigest()}.jpg" for one in (data, b"before"))
    (bay / "var/photos").mkdir()
    (bay / "var/photos" / whole).write_bytes(data)
    (bay / "var/photos" / altered).write_bytes(b"after")
    visual = photographed(whole, altered, "../../ringtrue.toml")
    put(bay, a_document(inspection="seen", checks={"visual": visual}))
    page = html("seen")
    assert page.count("<img ") == 1
    assert f"not at hand: {altered}" in page
    assert "not at hand: ../../ringtrue.toml" in page
    Path("out.html").unlink()
    (bay / "seen.json").write_bytes(a_document(inspection="seen", checks={"visual": visual}))
    assert "<img " not in html("--result", "seen.json")
    Path("out.html").unlink()
    assert "<img " in html("--result", "seen.json", "--photos", "var/photos")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["nosuch"], "nosuch: neither records nor journal ("),
        ([INSPECTION, "--revision", "99"], "truck-14: no result of revision 99 is kept; the latest is 15"),
        ([INSPECTION, "-o", "nowhere/x.pdf"], "nowhere: no such folder; make it first"),
        ([INSPECTION, "-o", "ringtrue.toml"], "ringtrue.toml: exists already, and a report overwrites none"),
        ([INSPECTION, "--sign-with", "ringtrue.toml"], "ringtrue.toml: opens neither as PKCS#12 nor as PEM"),
        (["--result", "nosuch.json"], "nosuch.json: No such file"),
        (["--result", "ringtrue.toml"], "ringtrue.toml: not a result document"),
    ],
)
@pytest.mark.slow
def test_what_cannot_be_done_is_one_line_and_makes_no_file(
    bay: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    assert said in refused(capsys, 3, *arguments)


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["x", "--result", "in.json"],
        ["--result", "in.json", "--revision", "2"],
        ["--result", "in.json", "--html", "--sign-with", "k.p12"],
        ["--result", "in.json", "--passphrase-file", "k"],
        ["--result", "in.json", "-o", "x.html"],
        ["--result", "in.json", "--html", "-o", "x.pdf"],
    ],
)
def test_what_clashes_is_a_mistake_of_usage(
    file: str, capsys: pytest.CaptureFixture[str], arguments: list[str]
) -> None:
    assert ": expected " in refused(capsys, 2, *arguments)


def test_a_document_that_was_altered_is_answered_no(file: str, capsys: pytest.CaptureFixture[str]) -> None:
    Path(file).write_bytes(a_document(verdict="replace"))
    assert "it was altered, and no report is made of it" in refused(capsys, 1, "--result", file)


def test_without_a_typesetter_it_says_so_and_html_does_without(
    file: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for package in ("typst", "pyhanko", "cryptography"):
        monkeypatch.setitem(sys.modules, package, None)
    assert "a PDF needs the package typst, which is not installed" in refused(capsys, 3, "--result", file)
    assert "KEEP" in html("--result", file)


def test_a_folder_that_cannot_be_written_is_named(
    file: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    said = refused(capsys, 3, "--result", file, "--html", "-o", "out.html")
    assert "out.html: cannot be written (No space left on device); name another place with -o" in said


@pytest.mark.slow
def test_a_passphrase_comes_from_a_file_or_the_environment_and_never_from_the_command_line(
    file: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the very lines that the page of the report gives."""
    told = (Path(__file__).parents[2] / "docs/report.md").read_text(encoding="utf-8")
    block = next(part for part in told.split("```") if "openssl pkcs12" in part)
    lines = "\n".join(line for line in block.splitlines()[1:] if line.startswith(("openssl", "printf", "  ")))
    Path("bay-2.pass").write_text("geheim\nsecond line\n")
    subprocess.run(["bash", "-ec", lines], check=True, capture_output=True)
    sealing = ["report", "--result", file, "--sign-with", "bay-2.p12"]
    assert main([*sealing, "--passphrase-file", "bay-2.pass", "-o", "one.pdf"]) == 0
    assert ", sealed by Greywacke bay-2" in capsys.readouterr().out
    monkeypatch.setenv("RINGTRUE_REPORT_PASSPHRASE", "geheim")
    assert main([*sealing, "-o", "two.pdf"]) == 0
    for made in ("one.pdf", "two.pdf"):
        said = subprocess.run(["pdfsig", made], check=False, capture_output=True, text=True).stdout
        assert "Signature is Valid" in said
    monkeypatch.delenv("RINGTRUE_REPORT_PASSPHRASE")
    capsys.readouterr()
    assert "is there a passphrase to be given?" in refused(capsys, 3, *sealing[1:], "-o", "three.pdf")
