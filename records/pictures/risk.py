"""A picture of a decision near its limit, as SVG: the chance of each outcome over the true figure."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from html import escape

from grading.gauge.risk import Chances

# From a figure in mm or a share to a place in the picture.
Scale = Callable[[float], float]

# Sizes in picture units, one a screen pixel at natural size: the field of the plot and its margins.
WIDTH, HEIGHT = 720, 430
LEFT, TOP, FIELD_WIDTH, FIELD_HEIGHT = 80, 86, 600, 262

STYLE = (
    "text{font-family:'DejaVu Sans',Arial,sans-serif;font-size:13px;fill:#111}"
    ".head{font-size:17px;font-weight:bold}.middle{text-anchor:middle}.end{text-anchor:end}"
    ".name{font-size:15px;font-weight:bold;text-anchor:middle}"
    ".halo{stroke:#fff;stroke-width:4px}"
    ".within{fill:#dce6ee}.unclear{fill:url(#lines)}.over{fill:#6d7f8d}"
    ".grid{stroke:#999;stroke-width:.6}.limit{stroke:#000;stroke-width:2;stroke-dasharray:7 4}"
    ".edge{stroke:#000;stroke-width:1.4;fill:none}"
)


def risk_svg(rows: Sequence[Chances], limit_mm: float, title: str, subtitle: str) -> str:
    """The three chances as bands that fill the height, from the first row's true figure to the last's.

    rows: at least 2, true figures increasing, mm. The dashed line is the limit. ValueError otherwise.
    """
    if len(rows) < 2 or any(b.true_mm <= a.true_mm for a, b in itertools.pairwise(rows)):
        raise ValueError("at least two rows with increasing true figures are needed")
    low, high = rows[0].true_mm, rows[-1].true_mm

    def x(true_mm: float) -> float:
        return LEFT + FIELD_WIDTH * (true_mm - low) / (high - low)

    def y(share: float) -> float:
        return TOP + FIELD_HEIGHT * (1.0 - share)

    lower = [(x(row.true_mm), y(row.within)) for row in rows]
    upper = [(x(row.true_mm), y(1.0 - row.over)) for row in rows]
    floor, ceiling = [(x(high), y(0.0)), (x(low), y(0.0))], [(x(high), y(1.0)), (x(low), y(1.0))]
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" '
        f'height="{HEIGHT}" role="img" aria-label="{escape(title, quote=True)}">',
        f"<style>{STYLE}</style>",
        '<defs><pattern id="lines" width="7" height="7" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><rect width="7" height="7" fill="#fff"/>'
        '<rect width="2" height="7" fill="#9aa7b1"/></pattern></defs>',
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>',
        f'<text x="{LEFT}" y="28" class="head">{escape(title)}</text>',
        f'<text x="{LEFT}" y="50">{escape(subtitle)}</text>',
        _shape("within", [*lower, *floor]),
        _shape("unclear", [*lower, *reversed(upper)]),
        _shape("over", [*upper, *ceiling]),
        f'<polyline class="edge" points="{_points(lower)}"/>',
        f'<polyline class="edge" points="{_points(upper)}"/>',
    ]
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        parts.append(
            f'<line class="grid" x1="{LEFT}" x2="{x(high):.1f}" y1="{y(share):.1f}" y2="{y(share):.1f}"/>'
        )
        parts.append(f'<text class="end" x="{LEFT - 8}" y="{y(share) + 4:.1f}">{100 * share:.0f} %</text>')
    for true_mm, text in _ticks(low, high):
        parts.append(
            f'<line class="edge" x1="{x(true_mm):.1f}" x2="{x(true_mm):.1f}" y1="{y(0.0):.1f}" '
            f'y2="{y(0.0) + 5:.1f}"/>'
        )
        parts.append(f'<text class="middle" x="{x(true_mm):.1f}" y="{y(0.0) + 20:.1f}">{text}</text>')
    if low <= limit_mm <= high:
        at = x(limit_mm)
        parts.append(
            f'<line class="limit" x1="{at:.1f}" x2="{at:.1f}" y1="{TOP - 8}" y2="{y(0.0) + 6:.1f}"/>'
        )
        parts.append(f'<text class="middle" x="{at:.1f}" y="{TOP - 12}">limit {limit_mm:g} mm</text>')
    parts += [_name(rows, outcome, x, y) for outcome in ("within", "unclear", "over")]
    parts.append(
        f'<text class="middle" x="{LEFT + FIELD_WIDTH / 2:.0f}" y="{HEIGHT - 28}">'
        "true figure of the part, mm; height of each band: how often it is found so</text></svg>\n"
    )
    return "\n".join(part for part in parts if part)


def _ticks(low: float, high: float) -> list[tuple[float, str]]:
    """Three to eight round figures from low to high, with the digits that they need."""
    decade = math.floor(math.log10(high - low)) - 1
    step = next(m * 10.0**decade for m in (1, 2, 5, 10, 20) if (high - low) / (m * 10.0**decade) < 7.0)
    digits = max(0, -math.floor(math.log10(step * 1.000001)))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [(i * step, f"{i * step:.{digits}f}") for i in range(first, last + 1)]


def _name(rows: Sequence[Chances], outcome: str, x: Scale, y: Scale) -> str:
    """The outcome's name in the middle of its band, where that is highest; nothing in a thin band."""
    heights = [float(getattr(row, outcome)) for row in rows]
    tall = max(heights)
    if tall < 0.12:
        return ""
    at = [i for i, height in enumerate(heights) if height > 0.98 * tall]
    row = rows[at[len(at) // 2]]
    bottom = {"within": 0.0, "unclear": row.within, "over": 1.0 - row.over}[outcome]
    middle = bottom + 0.5 * float(getattr(row, outcome))
    place = f'x="{x(row.true_mm):.1f}" y="{y(middle) + 5:.1f}"'
    # Twice, as not every program that shows pictures can draw a letter's outline below the letter.
    return "".join(f'<text class="{kind}" {place}>{outcome}</text>' for kind in ("name halo", "name"))


def _shape(kind: str, points: Sequence[tuple[float, float]]) -> str:
    return f'<polygon class="{kind}" points="{_points(points)}"/>'


def _points(points: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{px:.1f},{py:.1f}" for px, py in points)
