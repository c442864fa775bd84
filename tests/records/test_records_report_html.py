"""The page as HTML: well formed, whole by itself, and to be read by who cannot see it."""

from __future__ import annotations

import base64
import re
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contract.lengths import UNITS
from records.report.content import Source, compose
from records.report.html import as_html
from tests.records.reported import (
    THICKNESS,
    VISUAL,
    a_document,
    bare,
    foreign,
    photographed,
    replaced,
    unsigned,
)

XHTML = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"


def html_of(document: bytes, **photos: bytes) -> str:
    return as_html(compose(Source(document, photos=photos), UNITS["mm"]))


def parsed(html: str) -> ElementTree.Element:
    """As XML: stricter than a browser."""
    return ElementTree.fromstring(html.removeprefix("<!DOCTYPE html>\n"))


def said(element: ElementTree.Element) -> str:
    return " ".join(" ".join(element.itertext()).split())


@pytest.mark.parametrize("document", [a_document(), replaced(), bare(), foreign(), unsigned("abandoned")])
def test_it_is_well_formed_and_every_picture_has_a_name(document: bytes) -> None:
    root = parsed(html_of(document))
    assert root.get("lang") == "en"
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    for svg in root.iter(f"{SVG}svg"):
        title = svg.find(f"{SVG}title")
        assert title is not None
        assert title.text
        assert svg.get("aria-labelledby") == title.get("id")
    levels = [element.tag.removeprefix(XHTML) for element in root.iter() if re.search(r"}h\d$", element.tag)]
    assert levels[0] == "h1"
    assert levels[1] == "h2"
    assert set(levels[1:]) <= {"h2", "h3"}
    for table in root.iter(f"{XHTML}table"):
        assert table.find(f"{XHTML}caption") is not None
        assert all(head.get("scope") == "col" for head in table.iter(f"{XHTML}th"))


def test_it_needs_nothing_else_and_runs_nothing() -> None:
    html = html_of(a_document())
    assert "<script" not in html
    assert "@import" not in html
    places = set(re.findall(r'(?:href|src)="([^"]{,5})', html)) | set(re.findall(r"url\(", html))
    assert places == {"data:"}


def test_the_document_is_in_it_byte_for_byte() -> None:
    (link,) = parsed(html_of(a_document())).iter(f"{XHTML}a")
    assert base64.b64decode((link.get("href") or "").partition(",")[2]) == a_document()
    assert link.get("download") == "truck-14-november-6.json"


def test_the_same_document_gives_the_same_file() -> None:
    assert html_of(replaced()) == html_of(replaced())


@pytest.mark.slow
@settings(max_examples=30)
@given(st.text())
def test_whatever_somebody_wrote_is_text(note: str) -> None:
    written = note.encode(errors="replace").decode()
    items = [{"item": "leak", "seen": "good", "note": f"</td><script>{written}"}]
    html = html_of(a_document(checks={"visual": {**VISUAL, "items": items}}, signed_by=f"<b>{written}"))
    root = parsed(html)
    assert not list(root.iter(f"{XHTML}script"))
    assert not list(root.iter(f"{XHTML}b"))
    assert "</td><script>" in said(root)


def test_the_styles_of_a_drawing_keep_to_it() -> None:
    styles = re.findall(r"<svg id=\"(drawing-\d)\".*?<style>(.*?)</style>", html_of(a_document()))
    assert [name for name, _ in styles] == ["drawing-1", "drawing-2"]
    for name, style in styles:
        assert all(rule.startswith(f"#{name} ") for rule in style.strip().split("}") if rule.strip())


def test_photos_and_the_casing_are_shown_with_their_captions() -> None:
    checks = {"visual": photographed("a.jpg"), "thickness": THICKNESS}
    root = parsed(html_of(a_document(checks=checks), **{"a.jpg": b"\xff\xd8\xff and so on"}))
    (image,) = root.iter(f"{XHTML}img")
    assert image.get("alt") == "By eye, on the engine: leak: below the joint"
    assert base64.b64decode((image.get("src") or "").partition(",")[2]).startswith(b"\xff\xd8\xff")
    assert "40.270 highest" in said(root)
    assert "40.080 lowest" in said(root)
