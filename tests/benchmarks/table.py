"""One table of ratios, and the figures of several repeats of a measurement."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median


@dataclass(frozen=True, slots=True)
class Figure:
    """Several repeats of one measurement. text: how one value is shown, with its unit."""

    values: tuple[float, ...]
    text: str

    @property
    def median(self) -> float:
        """The middle one: a busy neighbour disturbs some repeats, seldom most."""
        return float(median(self.values))

    def __str__(self) -> str:
        shown = self.text.format(self.median)
        if len(self.values) == 1 or not self.median:
            return shown
        return f"{shown} (±{50 * (max(self.values) - min(self.values)) / abs(self.median):.0f} %)"


@dataclass(frozen=True, slots=True)
class Row:
    """One comparison. against: what the floor is. ratio: ours to the floor's, None where it says nothing.

    aim: in words; empty where the figure is only told. is_met: None then. holds: whether the ratio is no
    worse than it was, chance and a busy neighbour allowed for; None where that is not looked at.
    """

    what: str
    against: str
    floor: Figure | None
    ours: Figure
    ratio: float | None
    aim: str = ""
    is_met: bool | None = None
    holds: bool | None = None


HEAD = ("what", "against", "floor", "ours", "ratio", "aim", "")


def cells(row: Row) -> tuple[str, ...]:
    """A row as shown."""
    ratio = "" if row.ratio is None else f"{row.ratio:.2f}" if row.ratio < 100 else f"{row.ratio:.0f}"
    met = {True: "met", False: "NOT MET", None: ""}[row.is_met]
    met += " SLOWER THAN IT WAS" if row.holds is False else ""
    return (row.what, row.against, str(row.floor or ""), str(row.ours), ratio, row.aim, met)


def shown(rows: Iterable[Row]) -> str:
    """The table, in columns."""
    lines: Sequence[tuple[str, ...]] = [HEAD, *map(cells, rows)]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    text = ["  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)) for line in lines]
    text.insert(1, "  ".join("-" * width for width in widths))
    return "\n".join(line.rstrip() for line in text)
