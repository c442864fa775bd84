"""Colours of the pages: figures and text stand out from what is behind them by day and in the dark.

Contrast ratio as WCAG 2.1 defines it (relative luminance of sRGB); 7:1 is its level AAA.
"""

from __future__ import annotations

import re

import pytest

from display.web.app import PAGES

LEAST = 7.0
CSS = (PAGES / "css" / "base.css").read_text()
INKS = ("ink", "soft", "accent", "good", "bad", "doubt", "void")
PAPERS = ("paper", "panel")
OTHERS = (
    ("on-accent", "accent"),
    ("on-bad", "bad"),
    ("ink", "alarm-paper"),
    ("ink", "care-paper"),
    ("panel", "good"),
)


def colours(theme: str) -> dict[str, str]:
    """Of a theme; what the dark does not name is as by day."""
    day, dark = (
        dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", block))
        for block in re.findall(r":root[^{]*\{([^}]*)\}", CSS)
    )
    return day if theme == "day" else day | dark


def luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    bright, dim = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


def test_black_on_white_is_the_most_there_is() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("theme", ["day", "dark"])
def test_text_and_figures_stand_out(theme: str) -> None:
    named = colours(theme)
    pairs = [*((ink, paper) for ink in INKS for paper in PAPERS), *OTHERS]
    found = {pair: round(contrast(named[pair[0]], named[pair[1]]), 1) for pair in pairs}
    assert {pair: ratio for pair, ratio in found.items() if ratio < LEAST} == {}
