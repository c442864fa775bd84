"""What a report says, in order, with nothing of how it is set: PDF and HTML are made of this alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Cell:
    """One field of a table. strong: it must not be overlooked; never by its looks alone, its words say so."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Facts:
    """Pairs of a label and what it says."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Table:
    """caption: what it is a table of, for who cannot see it. weights: the columns' widths, in proportion.
    small: it explains, and does not decide."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    weights: tuple[float, ...]
    small: bool = False


@dataclass(frozen=True, slots=True)
class Items:
    """A check by eye. rows: a table of the items of which there is something to tell, None where there is
    none. good: the texts of all others, each seen and good."""

    name: str
    count: str
    rows: Table | None
    good: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Lines:
    """Sentences, one below the other. small: they explain, and do not decide."""

    lines: tuple[str, ...]
    small: bool = False


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing (SVG) with what it shows, for who cannot see it, and the words below it."""

    svg: str
    alt: str
    caption: str


@dataclass(frozen=True, slots=True)
class Pictures:
    """Drawings side by side, three to a row."""

    pictures: tuple[Picture, ...]


@dataclass(frozen=True, slots=True)
class Photo:
    """A JPEG as it lies beside the record, and what it shows."""

    data: bytes
    caption: str


@dataclass(frozen=True, slots=True)
class Photos:
    """Images, two to a row."""

    photos: tuple[Photo, ...]


@dataclass(frozen=True, slots=True)
class Blanks:
    """Lines for a hand to write on, each with what belongs there."""

    labels: tuple[str, ...]


Block = Facts | Table | Items | Lines | Pictures | Photos | Blanks


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands below it. is_foot: on paper it stands at the foot of the first page, beside
    the verdict, where it fits there."""

    heading: str
    blocks: tuple[Block, ...]
    is_foot: bool = False


@dataclass(frozen=True, slots=True)
class Page:
    """The whole report.

    headline: the verdict, or the state where that rules it out. tone: its ground, plain where the damper may
    stay, dark where it may not, grey where nothing is decided. notice: what must be read with it, as large;
    None where nothing must. says: both in sentences. code: what the QR code says. foot: on every page.
    made: RFC 3339, from the document. document: attached byte for byte; its name is `document_name`.
    """

    title: str
    subtitle: str
    headline: str
    tone: Literal["plain", "grey", "dark"]
    notice: str | None
    says: tuple[str, ...]
    code: str
    sections: tuple[Section, ...]
    foot: str
    made: str
    document: bytes
    document_name: str
