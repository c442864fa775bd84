"""Places whose single reading stands out from what a wedge and its station explain: read them again.

A slip of the pen, a burr or paint under an anvil changes one place alone. A wedge changes stations
smoothly; a bulge lifts both radii of its station. A place read once that neither explains may be any of
these, or a real bulge at one radius: a second reading tells.
"""

from __future__ import annotations

import numpy as np

from config.method import ThicknessRules
from contract.terms import Radius
from grading.evidence import F64

Place = tuple[float, Radius]


def standing_out(value_mm: F64, rules: ThicknessRules) -> F64:
    """How far each place is from the nearest explanation, mm, in the method's order, shape (n,).

    Explained is what lies between or near: the other radius of its station, plus the median taper of the
    other stations; and the first harmonic through the other stations, plus that taper.
    """
    outer, inner = value_mm[0::2], value_mm[1::2]
    count, taper, mean = outer.size, outer - inner, (outer + inner) / 2.0
    radians = np.deg2rad(np.array(rules.stations_deg))
    x = np.column_stack([np.ones(count), np.cos(radians), np.sin(radians)])
    found = np.zeros(value_mm.size)
    for i in range(count):
        others = np.arange(count) != i
        usual = float(np.median(taper[others]))
        explained = [[inner[i] + usual], [outer[i] - usual]]
        if np.linalg.matrix_rank(x[others]) == 3:
            wedge = float(x[i] @ np.linalg.lstsq(x[others], mean[others], rcond=None)[0])
            explained[0].append(wedge + usual / 2.0)
            explained[1].append(wedge - usual / 2.0)
        for j, value in enumerate((outer[i], inner[i])):
            found[2 * i + j] = min(abs(value - each) for each in explained[j])
    return found


def doubtful(
    value_mm: F64, counts: F64, rules: ThicknessRules, from_mm: float
) -> tuple[tuple[Place, ...], tuple[Place, ...]]:
    """(places to read again, those of them that stand out), in the method's order.

    A place that was read twice has been confirmed. Which radius of a station is wrong cannot be told from
    the other, so both are read again where neither has been confirmed.
    """
    far = (standing_out(value_mm, rules) >= from_mm) & (counts < 2)
    again = far.copy()
    for i in range(0, far.size, 2):
        if far[i : i + 2].any():
            again[i : i + 2] = counts[i : i + 2] < 2
    order = rules.order
    return (
        tuple(place for place, asked in zip(order, again, strict=True) if asked),
        tuple(place for place, out in zip(order, far, strict=True) if out),
    )
