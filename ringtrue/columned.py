"""Tables for the terminal: columns as wide as they need to be, and sentences below the row they belong to."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

WIDTH = 80
GAP = "  "
DASH = "–"


def table(head: Sequence[str], rows: Sequence[Sequence[str]], right: Iterable[int] = ()) -> list[str]:
    """The head and the rows as lines, cells padded. right: the columns of numbers."""
    widths = [max(len(row[at]) for row in (head, *rows)) for at in range(len(head))]
    numbers = set(right)

    def line(row: Sequence[str]) -> str:
        cells = (
            cell.rjust(width) if at in numbers else cell.ljust(width)
            for at, (cell, width) in enumerate(zip(row, widths, strict=True))
        )
        return GAP.join(cells).rstrip()

    return [line(head), *map(line, rows)]


def cut(text: str, most: int = 24) -> str:
    """A text as a cell: a dash where there is none, and no longer than a table bears."""
    return DASH if not text else text if len(text) <= most else text[: most - 1] + "…"


def sentences(said: Iterable[str], indent: str = "    ") -> Iterator[str]:
    """Each sentence on lines of its own, none wider than a terminal."""
    for one in said:
        yield from textwrap.wrap(
            one, WIDTH, initial_indent=indent, subsequent_indent=indent + "  ", break_on_hyphens=False
        )
