"""Figures to be read from afar: each of five rows of dots, two rows to a line of text."""

from __future__ import annotations

_DOTS = {
    "0": ("###", "# #", "# #", "# #", "###"),
    "1": ("  #", "  #", "  #", "  #", "  #"),
    "2": ("###", "  #", "###", "#  ", "###"),
    "3": ("###", "  #", "###", "  #", "###"),
    "4": ("# #", "# #", "###", "  #", "  #"),
    "5": ("###", "#  ", "###", "  #", "###"),
    "6": ("###", "#  ", "###", "# #", "###"),
    "7": ("###", "  #", "  #", "  #", "  #"),
    "8": ("###", "# #", "###", "# #", "###"),
    "9": ("###", "# #", "###", "  #", "###"),
    "+": ("   ", " # ", "###", " # ", "   "),
    "-": ("   ", "   ", "###", "   ", "   "),
    ".": (" ", " ", " ", " ", "#"),
    ":": (" ", "#", " ", "#", " "),
}
_HALVES = {"  ": " ", "# ": "▀", " #": "▄", "##": "█"}

ROOMY_COLUMNS = 60
"""Columns of a terminal from which on each dot is two wide."""


def big(figure: str, columns: int) -> str:
    """A figure in three lines, of digits and `+-.:` only."""
    times = 2 if columns >= ROOMY_COLUMNS else 1
    rows = ["".join(dot * times for dot in " ".join(_DOTS[sign][row] for sign in figure)) for row in range(5)]
    rows.append(" " * len(rows[0]))
    return "\n".join(
        "".join(_HALVES[upper + lower] for upper, lower in zip(rows[n], rows[n + 1], strict=True)).rstrip()
        for n in (0, 2, 4)
    )
