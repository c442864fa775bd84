"""A report as PDF, its document attached. The same page gives the same bytes.

Tagged for who cannot see it (PDF/UA-1, ISO 14289-1), and to be kept for long (PDF/A-3, ISO 19005-3, level A:
the part that allows an attached file of any kind).
"""

from __future__ import annotations

import json
import tempfile
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Any

from records.errors import NotInstalledError, ReportError
from records.report.code import qr_svg
from records.report.letters import FONTS, known_letters, visible
from records.report.page import Block, Page, Photos, Pictures

TEMPLATE = Path(__file__).parent / "page.typ"

LACKING = (
    "A number in brackets, such as [U+6F22], stands for a letter that this page's font lacks or that cannot "
    "be seen; the attached document has it as it is."
)


def as_pdf(page: Page) -> bytes:
    """The PDF. Raises ReportError where a library lacks, or an image cannot be read."""
    try:
        import typst
    except ModuleNotFoundError:
        raise NotInstalledError("typst") from None
    files: dict[str, bytes] = {
        "main.typ": TEMPLATE.read_bytes(),
        "code.svg": qr_svg(page.code).encode(),
        "document.json": page.document,
    }
    shown = _shown(_data(page, files))
    shown["lacking"] = LACKING if "[U+" in json.dumps(shown) else None
    files["page.json"] = json.dumps(shown).encode()
    with tempfile.TemporaryDirectory(prefix="ringtrue-report-") as name:  # it takes images from a folder only
        folder = Path(name)
        for file, content in files.items():
            (folder / file).write_bytes(content)
        try:
            pdf = typst.compile(
                str(folder / "main.typ"), root=name, format="pdf", font_paths=[str(FONTS)],
                ignore_system_fonts=True, pdf_standards=["a-3a", "ua-1"],
            )  # fmt: skip
        except typst.TypstError as error:
            said = " ".join("; ".join([error.message, *error.hints]).split())
            raise ReportError(f"the report cannot be set: {said}") from None
    assert isinstance(pdf, bytes)
    return pdf


def _data(page: Page, files: dict[str, bytes]) -> dict[str, Any]:
    """What the template reads; pictures and photos become files beside it, named by their numbers."""
    made = datetime.fromisoformat(page.made)
    sections = [
        {
            "heading": section.heading,
            "blocks": [_block(block, files) for block in section.blocks],
            "is_foot": section.is_foot,
        }
        for section in page.sections
    ]
    fields = ("title", "subtitle", "headline", "tone", "notice", "says", "code", "foot", "document_name")
    return {
        **{field: getattr(page, field) for field in fields},
        "made": [made.year, made.month, made.day, made.hour, made.minute, made.second],
        "sections": sections,
    }


def _block(block: Block, files: dict[str, bytes]) -> dict[str, Any]:
    kind = type(block).__name__.lower()
    if isinstance(block, Pictures):
        pictures = []
        for picture in block.pictures:
            name = f"picture-{len(files)}.svg"
            files[name] = visible(picture.svg, known_letters() | {"\n"}).encode()
            pictures.append({"file": name, "alt": picture.alt, "caption": picture.caption})
        return {"kind": kind, "pictures": pictures}
    if isinstance(block, Photos):
        photos = []
        for photo in block.photos:
            name = f"photo-{len(files)}.jpg"
            files[name] = photo.data
            photos.append({"file": name, "caption": photo.caption})
        return {"kind": kind, "photos": photos}
    return {"kind": kind, **asdict(block)}


def _shown(value: Any) -> Any:
    """The data with every letter visible."""
    if isinstance(value, dict):
        return {key: _shown(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_shown(inner) for inner in value]
    return visible(value, known_letters()) if isinstance(value, str) else value
