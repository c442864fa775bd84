from __future__ import annotations

from xml.etree import ElementTree

import pytest

from contract.lengths import UNITS
from contract.result import StationPart
from records.pictures.casing import MID_X, MID_Y, casing_svg

SVG = "{http://www.w3.org/2000/svg}"


def drawn(*outers_mm: float) -> list[tuple[str, float, float]]:
    """Every text with its place to the right of the middle and above it."""
    step = 360.0 / len(outers_mm)
    stations = [
        StationPart(station_deg=step * n, outer_mm=outer, inner_mm=40.0, taper_mm=outer - 40.0)
        for n, outer in enumerate(outers_mm)
    ]
    svg = casing_svg(stations, UNITS["mm"], heading="thickness", title="<map>")
    return [
        (text.text or "", float(text.get("x", "")) - MID_X, MID_Y - float(text.get("y", "")))
        for text in ElementTree.fromstring(svg).iter(f"{SVG}text")
    ]


def test_readings_lie_where_they_were_taken_anticlockwise_from_the_top() -> None:
    places = {text: (x, y) for text, x, y in drawn(40.1, 40.2, 40.3, 40.4)}
    assert places["40.100"][1] > 100
    assert places["40.200"][0] < -100
    assert places["40.300"][1] < -100
    assert places["40.400"][0] > 100


def test_highest_and_lowest_are_named_in_words() -> None:
    texts = [text for text, _, _ in drawn(40.1, 40.2, 39.9, 40.05)]
    assert texts[texts.index("highest") - 1] == "40.200"
    assert texts[texts.index("lowest") - 1] == "39.900"
    assert "highest" not in [text for text, _, _ in drawn(40.0, 40.0)]


def test_more_stations_than_fit_are_refused() -> None:
    with pytest.raises(ValueError, match="from 1 to 6 stations fit"):
        drawn(*[40.0] * 9)
