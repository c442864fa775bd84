"""A polar picture of what was measured, as SVG: profile, limit, high spot; legible printed in grey.

Run-out is a fraction of a millimetre on a radius of some hundred, so the picture is a polar plot of
the readings alone: midway between highest and lowest lies on a circle of fixed size, and readings
are so much magnified that the limit is always equally wide. Two circles a limit apart, as far to
either side, are the tolerance zone of circular run-out (two concentric circles, ISO 1101:2017): a
profile that leaves the band runs out by more. The figure that decides stands in the middle; what a dial
shows is among the lines below.

It is drawn as the damper is seen from its front, the crank at 0 degrees, the plunger's place at the top.
An engine that runs clockwise, seen so, brings under the plunger what lies further and further
anticlockwise: so crank angles go anticlockwise from the top.
"""

from __future__ import annotations

import itertools
import math
import textwrap
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from statistics import median

from contract.lengths import UNITS, LengthUnit

# Sizes in picture units; one is a screen pixel at natural size.
PANEL_WIDTH = 460
PANEL_HEIGHT = 540
# Left edge of running text, its lines' distance and a usual letter's width, of the title and of the rest.
EDGE, TITLE_LINE, LINE = 24, 24, 18
TITLE_LETTER, LETTER = 10.7, 6.5
MID_X, MID_Y, MID_RADIUS = PANEL_WIDTH / 2, 234.0, 120.0
# Half the width of the limit's band: so small that two and a half limits fit into the panel.
BAND_HALF = 24.0
# Readings further from the middle than this many half-bands are drawn there, so that one slipped
# plunger does not make everything else unreadable.
MOST_HALF_BANDS = 2.5
# Where the angles stand: outside of everything that is drawn.
ANGLES_RADIUS = MID_RADIUS + MOST_HALF_BANDS * BAND_HALF + 16.0
# The most points of a profile that are drawn: half a degree apart, less than the line is wide.
MOST_POINTS = 720
# A profile of at most this many readings shows each as a dot: they are what a dial and a pencil give.
MOST_DOTS = 72
# Neighbours further apart than this, and than this many usual steps, are a gap and are not joined.
GAP_DEG, GAP_STEPS = 10.0, 3.0
# Where the spokes begin: outside of the figures in the middle.
SPOKES_FROM = 82.0
# Longest scale bar, in picture units.
LONGEST_BAR = 2 * BAND_HALF
# The arrowhead: how far off the profile, how long, half as wide; slim, so that it is seen where it points.
ARROW_OFF, ARROW_LONG, ARROW_HALF = 4.0, 20.0, 5.5
# The zero mark: from where to where. The arrow that shows which way the engine runs: crank angles of its
# two ends, how long and half how wide its head is.
ZERO_FROM, ZERO_TO = ANGLES_RADIUS - 32.0, ANGLES_RADIUS - 14.0
RUNS_FROM_DEG, RUNS_TO_DEG, RUNS_LONG, RUNS_HALF = 338.0, 315.0, 9.0, 4.5
# A reading this far outside the band (picture units) is outside for the eye too.
OUT_BY = 0.05


def style(text_px: int, big_px: int, small_px: int, figure_px: int) -> str:
    """The looks of a picture, by the sizes of its letters: the rest, headings, words, and the figure in the
    middle, which a profile far over the limit comes near."""
    return (
        f"text{{font-family:'DejaVu Sans Condensed','DejaVu Sans',Arial,sans-serif;font-size:{text_px}px;"
        "fill:#111;text-anchor:middle}"
        f".big{{font-size:{big_px}px;font-weight:bold}}.small{{font-size:{small_px}px;fill:#333}}"
        f".figure{{font-size:{figure_px}px;font-weight:bold}}"
        ".left{text-anchor:start}"
        ".bar{stroke:#111;stroke-width:1.5;fill:none}"
        ".runs{stroke:#111;stroke-width:1.5;fill:none}"
        ".zero{stroke:#000;stroke-width:5;fill:none}"
        ".grid{stroke:#aaa;stroke-width:.8;fill:none}"
        ".limit{stroke:#333;stroke-width:1.2;stroke-dasharray:6 4;fill:none}"
        ".profile{stroke:#000;stroke-width:2;fill:none;stroke-linejoin:round}"
        ".out{stroke:#000;stroke-width:5;fill:none;stroke-linecap:round;stroke-linejoin:round}"
    )


STYLE = style(13, 17, 12, 17)
"""On a screen, at natural size."""
SMALL_STYLE = style(17, 24, 17, 20)
"""For a picture that stands as one of three in a row on paper: still legible at arm's length."""
# The part of a panel that such a picture shows: left, top, width and height.
SMALL_BOX = (12, -14, PANEL_WIDTH - 24, 462)


@dataclass(frozen=True, slots=True)
class Panel:
    """One measured surface.

    name, outcome: its heading. angle_deg, value_mm: same length, at least 2; angles as barred, of
    any turn; values plunger in positive. limit_mm: largest run-out allowed; limit_is: what kind of limit.
    deciding: the figure that was held against it, in that unit, None where nothing was judged. high_spot_deg:
    crank angle of the high spot, None where there is none to tell. figures: lines below the picture.
    unit: in which lengths are told. zero: what stands at 0 degrees.
    """

    name: str
    outcome: str
    angle_deg: Sequence[float]
    value_mm: Sequence[float]
    limit_mm: float
    deciding: str | None = None
    high_spot_deg: float | None = None
    figures: Sequence[str] = ()
    limit_is: str = "limit"
    unit: LengthUnit = UNITS["mm"]
    zero: str = "0° timing mark"

    def __post_init__(self) -> None:
        if len(self.angle_deg) != len(self.value_mm) or len(self.angle_deg) < 2:
            raise ValueError("a surface needs at least 2 readings, an angle with each")
        if not self.limit_mm > 0:
            raise ValueError("limit_mm must be above 0")
        if not all(map(math.isfinite, (*self.angle_deg, *self.value_mm, self.limit_mm))):
            raise ValueError("angles, readings and limit must be finite numbers")


def polar_svg(surfaces: Sequence[Panel], *, title: str, under: str = "", foot: str = "") -> str:
    """The picture of one or more surfaces side by side, an SVG document as text.

    under: what stands below the title. Raises ValueError without any surface.
    """
    if not surfaces:
        raise ValueError("a picture needs at least one surface")
    width = PANEL_WIDTH * len(surfaces)
    room = width - 2 * EDGE
    titles = textwrap.wrap(title, int(room / TITLE_LETTER))
    unders, feet = (textwrap.wrap(text, int(room / LETTER)) for text in (under, foot))
    head = 16 + TITLE_LINE * len(titles) + LINE * len(unders) + 16
    height = head + PANEL_HEIGHT + LINE * len(feet) + 10
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}" role="img">',
        f"<title>{escape(title)}</title><style>{STYLE}</style>",
        f'<rect width="{width}" height="{height}" fill="#fff"/>',
        *_lines(titles, 36, TITLE_LINE, "big left"),
        *_lines(unders, 34 + TITLE_LINE * len(titles), LINE, "small left"),
    ]
    for place, surface in enumerate(surfaces):
        parts += [f'<g transform="translate({place * PANEL_WIDTH} {head})">', *_panel(surface), "</g>"]
    parts += _lines(feet, head + PANEL_HEIGHT + 6, LINE, "small left")
    return "\n".join([*parts, "</svg>"]) + "\n"


def surface_svg(surface: Panel, *, title: str) -> str:
    """The picture of one surface by itself, in large letters, for a page that says all else around it.

    title: for who cannot see it.
    """
    left, top, width, height = SMALL_BOX
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
            f'viewBox="{left} {top} {width} {height}" role="img">',
            f"<title>{escape(title)}</title><style>{SMALL_STYLE}</style>",
            *_panel(surface),
            "</svg>\n",
        ]
    )


def _panel(surface: Panel) -> list[str]:
    high, low = max(surface.value_mm), min(surface.value_mm)
    middle, per_mm = (high + low) / 2.0, 2.0 * BAND_HALF / surface.limit_mm
    most, unit = MOST_HALF_BANDS * BAND_HALF, surface.unit

    def radius(value_mm: float) -> float:
        return MID_RADIUS + min(max((value_mm - middle) * per_mm, -most), most)

    inner, outer = MID_RADIUS - BAND_HALF, MID_RADIUS + BAND_HALF
    parts = [
        _text(MID_X, 12, f"{surface.name}: {surface.outcome}", "big"),
        f'<path d="{_ring(outer)}{_ring(inner)}" fill="#e8e8e8" fill-rule="evenodd"/>',
        *_grid(surface.zero),
        _circle("limit", inner),
        _circle("limit", outer),
        *_profile(surface, radius),
        _text(MID_X, MID_Y - 18, f"true TIR, {unit.name}" if surface.deciding else "nothing", "small"),
        _text(MID_X, MID_Y + 4, surface.deciding or "judged", "figure"),
        _text(MID_X, MID_Y + 24, f"{surface.limit_is} {unit.number(surface.limit_mm)}", "small"),
        *_scale(per_mm, unit),
    ]
    if surface.high_spot_deg is not None:
        nearest = min(
            zip(surface.angle_deg, surface.value_mm, strict=True),
            key=lambda reading: _apart(reading[0], surface.high_spot_deg or 0.0),
        )
        parts.append(_high_spot(surface.high_spot_deg, radius(nearest[1])))
    return [*parts, *_lines(surface.figures, 468, LINE, "small")]


def _scale(per_mm: float, unit: LengthUnit) -> Iterator[str]:
    """A bar of a round length: how far the profile moves outwards for so much."""
    per_unit = per_mm / unit.per_mm
    longest = LONGEST_BAR / per_unit
    power = 10.0 ** math.floor(math.log10(longest))
    bar = next(f * power for f in (5.0, 2.0, 1.0) if f * power <= longest * 1.001)
    right = EDGE + bar * per_unit
    yield f'<path class="bar" d="M{EDGE} 428v10M{EDGE} 433H{right:.1f}M{right:.1f} 428v10"/>'
    yield _text(right + 6, 437, f"{bar:g} {unit.name}", "small left")


def _apart(angle_deg: float, other_deg: float) -> float:
    return abs((angle_deg - other_deg + 180.0) % 360.0 - 180.0)


def _profile(surface: Panel, radius: Callable[[float], float]) -> list[str]:
    """The profile as one line, broken at gaps; what is outside the band drawn thick besides."""
    stride = -(-len(surface.angle_deg) // MOST_POINTS)
    angles = list(surface.angle_deg[::stride])
    radii = [radius(value) for value in surface.value_mm[::stride]]
    steps = [abs(b - a) for a, b in itertools.pairwise(angles)]
    gap = max(GAP_DEG, GAP_STEPS * median(steps)) if steps else GAP_DEG
    line, thick, was_out = [], [], False
    for place, (angle, r) in enumerate(zip(angles, radii, strict=True)):
        joined = place > 0 and steps[place - 1] <= gap
        here = "{:.1f} {:.1f}".format(*_at(angle, r))
        line.append(("L" if joined else "M") + here)
        is_out = abs(r - MID_RADIUS) > BAND_HALF + OUT_BY
        if is_out:
            thick.append(("L" if joined and was_out else "M") + here)
        was_out = is_out
    parts = [f'<path class="profile" d="{"".join(line)}"/>']
    if thick:
        parts.append(f'<path class="out" d="{"".join(thick)}"/>')
    if len(angles) <= MOST_DOTS:
        places = [_at(angle, r) for angle, r in zip(angles, radii, strict=True)]
        parts += [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.2" fill="#000"/>' for x, y in places]
    return parts


def _grid(zero: str) -> list[str]:
    """Spokes every 30 degrees, the angle at every third."""
    reach = MID_RADIUS + MOST_HALF_BANDS * BAND_HALF
    parts = [_circle("grid", MID_RADIUS)]
    for angle in range(0, 360, 30):
        (x1, y1), (x2, y2) = _at(angle, SPOKES_FROM), _at(angle, reach)
        parts.append(f'<path class="grid" d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}"/>')
        if angle % 90 == 0:
            x, y = _at(angle, ANGLES_RADIUS)
            parts.append(_text(x, y + 5, f"{angle}°" if angle else zero, "small"))
    (x1, y1), (x2, y2) = _at(0.0, ZERO_FROM), _at(0.0, ZERO_TO)
    return [*parts, f'<path class="zero" d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}"/>', *_runs()]


def _runs() -> list[str]:
    """An arrow outside: which way the engine runs, and the crank is barred."""
    r = ANGLES_RADIUS
    (x1, y1), (x2, y2) = _at(RUNS_FROM_DEG, r), _at(RUNS_TO_DEG, r)
    turn = math.radians(RUNS_TO_DEG)
    along_x, along_y = math.cos(turn), -math.sin(turn)  # clockwise there
    tip = x2 + along_x * RUNS_LONG, y2 + along_y * RUNS_LONG
    left = x2 - along_y * RUNS_HALF, y2 + along_x * RUNS_HALF
    right = x2 + along_y * RUNS_HALF, y2 - along_x * RUNS_HALF
    corners = "L".join(f"{x:.1f} {y:.1f}" for x, y in (tip, left, right))
    return [
        f'<path class="runs" d="M{x1:.1f} {y1:.1f}A{r:g} {r:g} 0 0 1 {x2:.1f} {y2:.1f}"/>',
        f'<path d="M{corners}z" fill="#111"/>',
    ]


def _high_spot(angle: float, r: float) -> str:
    """A filled arrowhead just outside the profile that points straight inwards at the high spot."""
    (x, y), (x2, y2) = _at(angle, r + ARROW_OFF), _at(angle, r + ARROW_OFF + ARROW_LONG)
    across_x, across_y = (y2 - y) / ARROW_LONG * ARROW_HALF, (x - x2) / ARROW_LONG * ARROW_HALF
    points = ((x, y), (x2 + across_x, y2 + across_y), (x2 - across_x, y2 - across_y))
    corners = " ".join(f"{px:.2f},{py:.2f}" for px, py in points)
    return f'<polygon class="high" points="{corners}" fill="#000"/>'


def _at(angle_deg: float, r: float) -> tuple[float, float]:
    turn = math.radians(angle_deg)
    return MID_X - r * math.sin(turn), MID_Y - r * math.cos(turn)


def _circle(kind: str, r: float) -> str:
    return f'<circle class="{kind}" cx="{MID_X:g}" cy="{MID_Y:g}" r="{r:g}"/>'


def _ring(r: float) -> str:
    return f"M{MID_X:g} {MID_Y - r:g}a{r:g} {r:g} 0 1 1 -.01 0z"


def _text(x: float, y: float, text: str, kind: str = "") -> str:
    return f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}">{escape(text)}</text>'


def _lines(lines: Sequence[str], first_y: float, apart: float, kind: str) -> list[str]:
    x = EDGE if "left" in kind else MID_X
    return [_text(x, first_y + apart * number, line, kind) for number, line in enumerate(lines)]
