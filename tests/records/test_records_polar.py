from __future__ import annotations

import math
import re
from xml.etree import ElementTree

import pytest

from records.pictures.polar import BAND_HALF, MID_RADIUS, MID_X, MID_Y, Panel, polar_svg

ANGLES = [0.5 * n for n in range(731)]
SVG = "{http://www.w3.org/2000/svg}"


def circle(tir_mm: float, high_deg: float) -> list[float]:
    return [tir_mm / 2 * math.cos(math.radians(angle - high_deg)) for angle in ANGLES]


def surface(tir_mm: float = 0.2, high_deg: float = 40.0, limit_mm: float = 0.28) -> Panel:
    figure = f"{tir_mm:.3f} ± 0.004"
    return Panel("rim", "within", ANGLES, circle(tir_mm, high_deg), limit_mm, figure, high_deg, ["figures"])


def drawn(svg: str, kind: str) -> list[list[tuple[float, float]]]:
    """The lines of one class as (crank angle, radius), one list for each unbroken piece."""
    pieces: list[list[tuple[float, float]]] = []
    for path in ElementTree.fromstring(svg).iter(f"{SVG}path"):
        if path.get("class") != kind:
            continue
        for pen, x_text, y_text in re.findall(r"([ML])(-?[\d.]+) (-?[\d.]+)", path.get("d", "")):
            x, y = MID_X - float(x_text), MID_Y - float(y_text)
            if pen == "M":
                pieces.append([])
            pieces[-1].append((math.degrees(math.atan2(x, y)) % 360.0, math.hypot(x, y)))
    return pieces


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def test_the_profile_bulges_at_the_high_spot_by_its_share_of_the_limit() -> None:
    (piece,) = drawn(polar_svg([surface(0.14, 75.0)], title="t"), "profile")
    angle, reach = max(piece, key=lambda point: point[1])
    assert angle == pytest.approx(75.0, abs=5.0)
    assert reach == pytest.approx(MID_RADIUS + BAND_HALF / 2, abs=0.1)
    assert min(r for _, r in piece) == pytest.approx(MID_RADIUS - BAND_HALF / 2, abs=0.1)


@pytest.mark.parametrize(("tir_mm", "is_out"), [(0.2, False), (0.28, False), (0.3, True)])
def test_only_what_leaves_the_band_is_drawn_thick(tir_mm: float, is_out: bool) -> None:
    thick = drawn(polar_svg([surface(tir_mm)], title="t"), "out")
    assert bool(thick) is is_out
    assert all(abs(r - MID_RADIUS) > BAND_HALF for piece in thick for _, r in piece)


def test_where_nothing_was_read_no_line_is_drawn() -> None:
    whole = surface()
    angles = [angle for angle in ANGLES if not 100 < angle < 130]
    values = [value for angle, value in zip(ANGLES, whole.value_mm, strict=True) if not 100 < angle < 130]
    holed = Panel("rim", "invalid", angles, values, 0.28)
    assert len(drawn(polar_svg([whole], title="t"), "profile")) == 1
    before, after = drawn(polar_svg([holed], title="t"), "profile")
    assert before[-1][0] == pytest.approx(100.0, abs=0.1)
    assert after[0][0] == pytest.approx(130.0, abs=0.1)


def test_a_dial_and_a_pencil_show_each_reading() -> None:
    angles = [30.0 * n for n in range(13)]
    svg = polar_svg([Panel("rim", "within", angles, [0.01 * n for n in range(13)], 0.28)], title="t")
    dots = [c for c in ElementTree.fromstring(svg).iter(f"{SVG}circle") if c.get("class") is None]
    assert len(dots) == 13
    assert len(drawn(svg, "profile")) == 1


def test_a_slipped_plunger_stays_within_the_panel() -> None:
    values = circle(0.2, 0.0)
    values[300] = 25.0
    pieces = drawn(polar_svg([Panel("rim", "over", ANGLES, values, 0.28)], title="t"), "profile")
    assert max(r for piece in pieces for _, r in piece) < MID_X


def test_the_arrowhead_points_at_the_high_spot() -> None:
    svg = polar_svg([surface(high_deg=120.0)], title="t")
    (arrow,) = ElementTree.fromstring(svg).iter(f"{SVG}polygon")
    tip, left, right = (
        [float(number) for number in corner.split(",")] for corner in arrow.get("points", "").split()
    )
    assert math.degrees(math.atan2(MID_X - tip[0], MID_Y - tip[1])) == pytest.approx(120.0, abs=0.2)
    # Straight, and so slim that it is seen which corner points.
    assert math.dist(tip, left) == pytest.approx(math.dist(tip, right), abs=0.05)
    assert math.dist(tip, left) > 1.6 * math.dist(left, right)
    nothing = Panel("rim", "invalid", ANGLES, circle(0.2, 0.0), 0.28)
    assert "polygon" not in polar_svg([nothing], title="t")


def test_it_says_what_it_shows_and_escapes_what_it_is_given() -> None:
    svg = polar_svg([surface(), surface()], title="<bay> & co", foot="a < b")
    said = texts(svg)
    assert said.count("rim: within") == 2
    assert {
        "<bay> & co",
        "a < b",
        "figures",
        "true TIR, mm",
        "0.200 ± 0.004",
        "limit 0.280",
        "0° timing mark",
        "270°",
    } <= set(said)


def sizes(svg: str) -> dict[str, str]:
    """Each text with its class."""
    found = ElementTree.fromstring(svg).iter(f"{SVG}text")
    return {element.text or "": element.get("class", "") for element in found}


def test_the_figure_that_decides_is_the_prominent_one() -> None:
    drawn = sizes(polar_svg([surface()], title="t"))
    assert drawn["0.200 ± 0.004"] == "figure"
    assert drawn["figures"] == drawn["limit 0.280"] == "small"
    nothing = sizes(polar_svg([Panel("rim", "invalid", ANGLES, circle(0.2, 0.0), 0.28)], title="t"))
    assert nothing["judged"] == "figure"
    assert not any(re.search(r"\d ± ", text) for text in nothing)


@pytest.mark.parametrize(("limit_mm", "said"), [(0.28, "0.2 mm"), (0.1, "0.1 mm"), (0.05, "0.05 mm")])
def test_the_scale_is_a_round_length_as_the_profile_is_magnified(limit_mm: float, said: str) -> None:
    svg = polar_svg([surface(limit_mm=limit_mm)], title="t")
    assert said in texts(svg)
    (bar,) = (p for p in ElementTree.fromstring(svg).iter(f"{SVG}path") if p.get("class") == "bar")
    left, right = re.findall(r"M(-?[\d.]+) 428v", bar.get("d", ""))
    assert (float(right) - float(left)) / float(said.split()[0]) == pytest.approx(
        2 * BAND_HALF / limit_mm, rel=0.01
    )


def test_long_text_is_wrapped_within_the_picture() -> None:
    svg = polar_svg([surface()], title="word " * 30, under="word " * 40, foot="word " * 60)
    assert max(map(len, texts(svg))) < 70
    root = ElementTree.fromstring(svg)
    assert max(float(text.get("y", "0")) for text in root.findall(f"{SVG}text")) < float(
        root.get("height", "0")
    )


def test_it_is_grey() -> None:
    svg = polar_svg([surface(0.4)], title="t")
    colours = re.findall(r"#([0-9a-f]{3,6})\b", svg)
    assert colours
    assert all(colour[: len(colour) // 3] * 3 == colour for colour in colours)
    assert not re.search(r"\b(rgb|hsl|red|green|blue|orange|yellow)\b", svg)


def test_a_long_sweep_stays_a_small_file() -> None:
    angles = [0.02 * n for n in range(18_300)]
    values = [0.1 * math.cos(math.radians(angle)) for angle in angles]
    assert len(polar_svg([Panel("rim", "within", angles, values, 0.28)], title="t")) < 20_000


@pytest.mark.parametrize(
    ("angles", "values", "limit"),
    [
        ([0.0], [0.0], 0.28),
        ([0.0, 1.0], [0.0], 0.28),
        ([0.0, 1.0], [0.0, 0.1], 0.0),
        ([0.0, math.nan], [0.0, 0.1], 1.0),
    ],
)
def test_what_cannot_be_drawn_is_refused(angles: list[float], values: list[float], limit: float) -> None:
    with pytest.raises(ValueError, match=r"must be|needs"):
        Panel("rim", "within", angles, values, limit)


def test_a_picture_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        polar_svg([], title="t")
