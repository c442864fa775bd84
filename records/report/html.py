"""A report as one HTML file that needs nothing else: the PDF's page, well formed, without script."""

from __future__ import annotations

import base64
import re
from html import escape
from pathlib import Path

from records.report.code import qr_svg
from records.report.letters import visible
from records.report.page import (
    Blanks,
    Block,
    Cell,
    Facts,
    Items,
    Lines,
    Page,
    Photo,
    Photos,
    Picture,
    Pictures,
    Table,
)

STYLE = Path(__file__).parent / "page.css"
SHORT = 42
"""Letters of a fact of which two stand side by side."""


def as_html(page: Page) -> str:
    """The file's text."""
    notice = f' <span class="notice">{_e(page.notice)}</span>' if page.notice is not None else ""
    says = "".join(f"<p>{_e(sentence)}</p>" for sentence in page.says)
    sections = "\n".join(
        f"<section><h2>{_e(section.heading)}</h2>{''.join(map(_block, section.blocks))}</section>"
        for section in page.sections
    )
    attached = base64.b64encode(page.document).decode()
    style = STYLE.read_text(encoding="utf-8")
    return f"""<!DOCTYPE html>
<html lang="en" xmlns="http://www.w3.org/1999/xhtml"><head><meta charset="utf-8"/>
<meta name="viewport" content="width=device-width"/><meta name="generator" content="ringtrue"/>
<meta name="date" content="{_e(page.made)}"/><title>{_e(page.title)}</title><style>
{style}</style></head><body>
<header><div><h1>{_e(page.title)}</h1><p>{_e(page.subtitle)}</p>
<div class="verdict {page.tone}"><p class="large">{_e(page.headline)}{notice}</p>{says}</div></div>
<figure>{_titled(qr_svg(page.code), f"QR code: {page.code}", 0)}
<figcaption class="small">inspection, revision and SHA-256 of the document</figcaption></figure></header>
<main>
{sections}
<p class="small"><a download="{_e(page.document_name)}" href="data:application/json;base64,{attached}">The
result document that this report shows, byte for byte: {_e(page.document_name)}</a></p>
</main>
<footer><p class="small">{_e(page.foot)}</p></footer>
</body></html>
"""


def _block(block: Block) -> str:
    match block:
        case Facts():
            pairs = "".join(f"<dt>{_e(label)}</dt><dd>{_e(said)}</dd>" for label, said in block.pairs)
            kind = ' class="two"' if all(len(said) <= SHORT for _, said in block.pairs) else ""
            return f"<dl{kind}>{pairs}</dl>"
        case Table():
            return _table(block)
        case Items():
            good = "".join(f"<li>{_e(text)}</li>" for text in block.good)
            others = "<p>The others, good:</p>" if block.good and block.rows is not None else ""
            told = "" if block.rows is None else _table(block.rows)
            listed = f"{others}<ul>{good}</ul>" if good else ""
            return (
                f'<div class="items small"><h3>{_e(f"{block.name}: {block.count}")}</h3>{told}{listed}</div>'
            )
        case Lines():
            kind = ' class="small"' if block.small else ""
            if len(block.lines) == 1:
                return f"<p{kind}>{_e(block.lines[0])}</p>"
            return f"<ul{kind}>" + "".join(f"<li>{_e(line)}</li>" for line in block.lines) + "</ul>"
        case Pictures():
            drawn = "".join(_picture(picture, place) for place, picture in enumerate(block.pictures, 1))
            return f'<div class="row">{drawn}</div>'
        case Photos():
            return '<div class="pair">' + "".join(map(_photo, block.photos)) + "</div>"
        case Blanks():
            blanks = "".join(f'<div class="blank small">{_e(label)}</div>' for label in block.labels)
            return f'<div class="blanks">{blanks}</div>'


def _table(table: Table) -> str:
    head = "".join(f'<th scope="col">{_e(name)}</th>' for name in table.columns)
    whole = sum(table.weights)
    widths = "".join(f'<col style="width:{100 * weight / whole:.1f}%"/>' for weight in table.weights)
    rows = "".join("<tr>" + "".join(map(_cell, row)) + "</tr>" for row in table.rows)
    small = ' class="small"' if table.small else ""
    return (
        f"<table{small}><caption>{_e(table.caption)}</caption><colgroup>{widths}</colgroup><thead><tr>{head}</tr></thead>"
        f"<tbody>{rows}</tbody></table>"
    )


def _cell(cell: Cell) -> str:
    return f"<td><strong>{_e(cell.text)}</strong></td>" if cell.strong else f"<td>{_e(cell.text)}</td>"


def _picture(picture: Picture, place: int) -> str:
    svg = _titled(picture.svg, picture.alt, place)
    return f"<figure>{svg}<figcaption>{_e(picture.caption)}</figcaption></figure>"


def _photo(photo: Photo) -> str:
    data = base64.b64encode(photo.data).decode()
    image = f'<img alt="{_e(photo.caption)}" src="data:image/jpeg;base64,{data}"/>'
    return f"<figure>{image}<figcaption>{_e(photo.caption)}</figcaption></figure>"


def _titled(svg: str, title: str, place: int) -> str:
    """A drawing within the page: it has a name, and its styles keep to itself."""
    name, text = f"drawing-{place}", visible(svg.replace("\n", " "))
    text = re.sub(r"<title>.*?</title>", "", text)
    text = re.sub(r"<style>(.*?)</style>", lambda m: f"<style>{_within(m[1], name)}</style>", text)
    head = f'<svg id="{name}" role="img" aria-labelledby="{name}-title"'
    text = text.replace(' role="img"', "", 1).replace("<svg", head, 1)
    return text.replace(">", f'><title id="{name}-title">{_e(title)}</title>', 1)


def _within(style: str, name: str) -> str:
    return re.sub(r"(^|\})([^{}]+)\{", rf"\1#{name} \2{{", style)


def _e(text: str) -> str:
    return escape(visible(text))
