"""A map of the casing's thickness, as SVG: two places at each station, highest and lowest named.

Seen from the front, stations counted as crank angles are: anticlockwise from 0 degrees at the top.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

from contract.lengths import LengthUnit
from contract.result import StationPart
from records.pictures.polar import SMALL_BOX, style

STATIONS_MAX = 6
"""The boxes of more would cover each other; a table tells them."""

# In picture units, those of a polar picture, so that both print at one scale.
LEFT, TOP, WIDTH, HEIGHT = SMALL_BOX
MID_X, MID_Y = LEFT + WIDTH / 2, 234.0
# The casing's edge, its bore, and where the readings of both radii and the angles are written.
EDGE_R, BORE_R, OUTER_R, INNER_R, ANGLE_R = 172.0, 34.0, 139.0, 74.0, 200.0
# As large as the boxes hold.
STYLE = style(17, 24, 16, 17)


def casing_svg(stations: Sequence[StationPart], unit: LengthUnit, *, heading: str, title: str) -> str:
    """The map, an SVG document as text. title: for who cannot see it.

    Raises ValueError for too many stations.
    """
    if not 1 <= len(stations) <= STATIONS_MAX:
        raise ValueError(f"from 1 to {STATIONS_MAX} stations fit, not {len(stations)}")
    places = [value for part in stations for value in (part.outer_mm, part.inner_mm)]
    high, low = max(places), min(places)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{HEIGHT}" '
        f'viewBox="{LEFT} {TOP} {WIDTH} {HEIGHT}" role="img">',
        f"<title>{escape(title)}</title><style>{STYLE}</style>",
        _text(MID_X, 12, heading, "big"),
        f'<circle cx="{MID_X:g}" cy="{MID_Y:g}" r="{EDGE_R:g}" fill="#f0f0f0" stroke="#333"/>',
        f'<circle cx="{MID_X:g}" cy="{MID_Y:g}" r="{BORE_R:g}" fill="#fff" stroke="#333"/>',
    ]
    for part in stations:
        (x1, y1), (x2, y2) = _at(part.station_deg, BORE_R), _at(part.station_deg, EDGE_R + 8)
        parts.append(f'<path class="grid" d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}"/>')
        x, y = _at(part.station_deg, ANGLE_R)
        parts.append(
            _text(x, y + 5, f"{part.station_deg:g}°" if part.station_deg else "0° timing mark", "small")
        )
        for value, r in ((part.outer_mm, OUTER_R), (part.inner_mm, INNER_R)):
            word = "" if high == low else {high: "highest", low: "lowest"}.get(value, "")
            parts += _place(*_at(part.station_deg, r), unit.number(value), word)
    return "\n".join([*parts, "</svg>"]) + "\n"


def _place(x: float, y: float, value: str, word: str) -> list[str]:
    """A reading in a box; one that makes the spread in a thick one, with its word."""
    width, height = 63.0, 42.0 if word else 25.0
    top = y - height / 2
    box = f'<rect x="{x - width / 2:.1f}" y="{top:.1f}" width="{width:g}" height="{height:g}" fill="#fff" '
    parts = [f'{box}stroke="#000" stroke-width="{2.5 if word else 0.8}"/>', _text(x, top + 18.5, value, "")]
    return [*parts, _text(x, top + 36, word, "small")] if word else parts


def _at(angle_deg: float, r: float) -> tuple[float, float]:
    turn = math.radians(angle_deg)
    return MID_X - r * math.sin(turn), MID_Y - r * math.cos(turn)


def _text(x: float, y: float, text: str, kind: str) -> str:
    return f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}">{escape(text)}</text>'
