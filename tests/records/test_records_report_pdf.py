"""The PDF, read by tools that know nothing of it: poppler's, and a reader of QR codes."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from PIL import Image

from contract.lengths import UNITS
from records.errors import NotInstalledError, ReportError
from records.photos import keep_photo
from records.report.content import Source, compose, read_result
from records.report.pdf import LACKING, as_pdf
from tests.records.reported import (
    LONG,
    RIM,
    VISUAL,
    a_document,
    bare,
    foreign,
    photographed,
    replaced,
    whole,
)

pytestmark = pytest.mark.slow


def pdf_of(document: bytes, **photos: bytes) -> bytes:
    return as_pdf(compose(Source(document, photos=photos), UNITS["mm"]))


def made(folder: Path, document: bytes, **photos: bytes) -> Path:
    file = folder / "report.pdf"
    file.write_bytes(pdf_of(document, **photos))
    return file


def told(*command: object) -> str:
    return subprocess.run([*map(str, command)], check=True, capture_output=True).stdout.decode()


def text_of(file: Path) -> str:
    """In the order in which it stands in the file."""
    return " ".join(told("pdftotext", "-raw", file, "-").split())


def pixels(file: Path, page: int = 1, dpi: int = 100) -> np.ndarray:
    """A page in grey, as a printer without colour has it."""
    command = ["pdftoppm", "-gray", "-r", str(dpi), "-f", str(page), "-l", str(page), str(file)]
    pgm = subprocess.run(command, check=True, capture_output=True).stdout
    head = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", pgm)
    assert head is not None
    width, height = map(int, head.groups())
    return np.frombuffer(pgm, np.uint8, offset=head.end()).reshape(height, width)


def test_it_is_tagged_and_says_that_it_is_to_be_kept(tmp_path: Path) -> None:
    """What poppler can tell; the writer refuses to write what it knows to break PDF/A-3 or PDF/UA-1."""
    file = made(tmp_path, a_document())
    info = dict(re.findall(r"^([\w ]+?): +(.*)$", told("pdfinfo", file), re.MULTILINE))
    assert info["Tagged"] == "yes"
    assert info["PDF version"] == "1.7"
    assert info["Pages"] == "2"
    assert "A4" in info["Page size"]
    assert info["Title"] == "Damper inspection truck-14-november"
    meta = told("pdfinfo", "-meta", file)
    for part in ("pdfaid:part>3<", "pdfaid:conformance>A<", "pdfuaid:part>1<"):
        assert part in meta
    structure = told("pdfinfo", "-struct", file)
    assert {"H1", "H2", "Table", "TH", "TD", "Figure", "L"} <= set(re.findall(r"\b[A-Z]\w*\b", structure))
    fonts = told("pdffonts", file).splitlines()[2:]
    assert fonts
    assert all(re.match(r"[A-Z]{6}\+DejaVu", line) and " yes yes yes" in line for line in fonts)


def test_the_same_document_gives_the_same_bytes_on_any_day(tmp_path: Path) -> None:
    """In another process, with another clock and none of this machine's fonts at hand."""
    program = (
        "import sys\nfrom tests.records.test_records_report_pdf import pdf_of\n"
        "from tests.records.reported import a_document\nsys.stdout.buffer.write(pdf_of(a_document()))\n"
    )
    environ = {"TZ": "Pacific/Chatham", "HOME": str(tmp_path), "SOURCE_DATE_EPOCH": "1", "PATH": ""}
    again = subprocess.run(
        [sys.executable, "-c", program], check=True, capture_output=True, env=environ,
        cwd=Path(__file__).parents[2],
    ).stdout  # fmt: skip
    assert again == pdf_of(a_document())


def test_the_document_is_attached_byte_for_byte(tmp_path: Path) -> None:
    file = made(tmp_path, replaced())
    assert "truck-14-november-6.json" in told("pdfdetach", "-list", file)
    told("pdfdetach", "-save", 1, "-o", tmp_path / "out.json", file)
    assert (tmp_path / "out.json").read_bytes() == replaced()


@pytest.mark.parametrize("dpi", [100, 300])
def test_the_code_reads_as_id_and_hash_of_the_attached_document(tmp_path: Path, dpi: int) -> None:
    (found,) = zxingcpp.read_barcodes(pixels(made(tmp_path, a_document()), dpi=dpi))
    assert found.text == compose(Source(a_document()), UNITS["mm"]).code


def test_all_that_decides_can_be_read_again(tmp_path: Path) -> None:
    text = text_of(made(tmp_path, replaced()))
    for said in (
        "REPLACE", "0.342 ± 0.008 (95 %)", "OVER THE LIMIT", "Rim: reason 24:", "BAD", "NOT SEEN",
        "fluid on the lower half", "bar to this angle and the high spot is under the plunger",
        "0° timing mark", "2026-03-01: OVERDUE", "R. Example", "a qualified person decides and signs",
        "page 1 of 2", "83589050" * 8,
    ):  # fmt: skip
        assert said in text, said


def test_long_and_foreign_names_are_whole_and_stay_on_the_page(tmp_path: Path) -> None:
    file = made(tmp_path, foreign())
    text = text_of(file)
    for said in ("Ζωή Παπαδοπούλου [U+6F22][U+5B57] [U+202E]elpmaxE", "карьер-7", "ünï ✓ [U+1F69A]", LACKING):
        assert said in text, said
    assert LONG in text.replace(" ", "")
    for page in (1, 2):
        white = pixels(file, page, 50) == 255
        margin = round(12 / 25.4 * 50)  # of 15 mm
        assert white[:, :margin].all()
        assert white[:, -margin:].all()


def test_what_somebody_wrote_is_never_taken_for_the_template_s(tmp_path: Path) -> None:
    note = '#panic("x") *bold* $x$ <label> @ref \\ [box] // no /* comment "quoted" -- ~ '.strip()
    items = [{"item": "leak", "seen": "good", "note": note}]
    assert note in text_of(made(tmp_path, a_document(checks={"visual": {**VISUAL, "items": items}})))


def test_an_inspection_of_which_nothing_was_made_is_a_report_too(tmp_path: Path) -> None:
    text = text_of(made(tmp_path, bare()))
    assert "NOT FINISHED NOT SIGNED" in text
    assert text.count("MISSING") == 3
    assert "page 1 of 1" in text


def first_page(file: Path) -> str:
    return " ".join(told("pdftotext", "-raw", "-l", 1, file, "-").split())


def test_what_decides_and_who_signed_stand_on_the_first_page(tmp_path: Path) -> None:
    """However much there is to tell: the reasons of this one go on on the second."""
    reasons = [f"rim: reason {n}: {RIM['reason']}" for n in range(1, 25)]
    text = first_page(made(tmp_path, replaced(reasons=reasons)))
    for said in (
        "REPLACE",
        "OVER THE LIMIT",
        "fluid on the lower half",
        "Rim: reason 1:",
        "Signed by R. Example",
    ):
        assert said in text, said
    many = [{"by": "R. Example", "why": "misread the plate " * 5, "when": "2026-11-27T05:20:00.000Z",
             "what": [{"key": "engine.hours_h", "was": 11840.0, "now": 11850.5}]}] * 60  # fmt: skip
    assert text_of(made(tmp_path, a_document(corrections=many))).count("misread the plate") == 300


@pytest.mark.parametrize("decided", [{}, {"state": "closed", "signed": None, "signed_by": None}])
def test_the_whole_of_an_inspection_is_two_pages_and_its_signature_on_the_first(
    tmp_path: Path, decided: dict[str, object]
) -> None:
    """Every item of the example method good, three figures with what is to be known of them, and four earlier
    inspections."""
    document = whole(**decided)
    earlier = [a_document(inspection=f"2025110{n}-060000-1a2b3c", checks=json.loads(document)["checks"])
               for n in range(1, 5)]  # fmt: skip
    source = Source(document, earlier=tuple(read_result(one, "x") for one in earlier))
    file = tmp_path / "report.pdf"
    file.write_bytes(as_pdf(compose(source, UNITS["mm"])))
    assert re.search(r"^Pages: +2$", told("pdfinfo", file), re.MULTILINE)
    assert ("Signed by R. Example" if not decided else "Not signed at the bay.") in first_page(file)


def test_the_large_words_are_large_and_told_apart_without_colour(tmp_path: Path) -> None:
    """The ground of the head, on paper: white for keep, black for replace."""
    light = {document: pixels(made(tmp_path, document), dpi=50) for document in (a_document(), replaced())}
    shades = {np.median(page[50:90, 40:250]) for page in light.values()}
    assert shades == {0, 255}


def test_a_photo_is_shown_and_a_broken_one_is_refused(tmp_path: Path) -> None:
    Image.new("RGB", (300, 200), "gray").save(tmp_path / "leak.png")
    name = keep_photo(tmp_path / "leak.png", tmp_path).name
    data = (tmp_path / name).read_bytes()
    document = a_document(checks={"visual": photographed(name, "lost.jpg")})
    file = made(tmp_path, document, **{name: data})
    text = text_of(file)
    assert "By eye, on the engine: leak: below the joint" in text
    assert "not at hand: lost.jpg" in text
    assert "jpeg" in told("pdfimages", "-list", file)
    with pytest.raises(ReportError, match="cannot be set: failed to decode image") as refused:
        pdf_of(document, **{name: data[:40]})
    assert "\n" not in str(refused.value)


def test_without_the_typesetter_one_line_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(
        NotInstalledError, match=r"needs the package typst, .* --html does without"
    ) as refused:
        pdf_of(a_document())
    assert refused.value.exit_code == 3
    assert "\n" not in str(refused.value)


def test_a_document_as_large_as_any_may_be_is_set(tmp_path: Path) -> None:
    reasons = [f"visual: {'x' * 700} {n}" for n in range(24)]
    document = a_document(reasons=reasons)
    assert len(document) > 18_000
    text = text_of(made(tmp_path, document))
    assert json.loads(document)["reasons"][23][-10:] in text
