"""How often the interval stated for the casing's thickness holds the true spread, and how often it decides
wrongly, over simulated casings.

The grid: repeatability of a reading 0.5 … 10 um (normal); displays of 0.01 and 0.001 mm, on a grid of
their own zero, with a permissible error of 0.015 and 0.004 mm: the difference of highest and lowest is wrong
by s, rectangular within it, along a monotone error curve, as in `synthetic`; casings even, with a wedge, with
a bulge at one station, with two levels, or eight random places; true spreads 0.02, 0.1 and 0.252 mm; each
place read once, twice or three times. The gauge states nothing of its repeatability.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from config.method import ThicknessRules
from contract.gauge import GaugeFacts
from grading.evidence import F64, Thickness, ThicknessReading
from grading.kinds.thickness import judge_thickness
from grading.thickness.thickness import estimate_thickness, sort_places
from tests.grading.samples import EXAMPLE, method

Casing = Literal["even", "wedge", "bulge", "levels", "random"]
SHAPES: dict[Casing, tuple[float, ...]] = {
    "even": (0.0,) * 8,
    "wedge": (1.0, 1.0, 0.5, 0.5, 0.0, 0.0, 0.5, 0.5),
    "bulge": (1.0, 0.9, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
    "levels": (1.0, 1.0, 1.0, 1.0, 0.0, 0.0, 0.0, 0.0),
}
CASINGS: tuple[Casing, ...] = ("even", "wedge", "bulge", "levels", "random")
GAUGES = (GaugeFacts("coarse", 0.01, 0.015), GaugeFacts("fine", 0.001, 0.004))
SCATTER_UM = (0.5, 1.0, 2.0, 5.0, 10.0)
SPREADS_MM = (0.02, 0.1, 0.252)
NEAR_UM = (2, 5, 10, 20)
RULES = EXAMPLE.thickness
LEAST = 0.935
"""Of 100 intervals so many must hold the truth: 95 less what is allowed."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One point of the grid. each: readings of every place."""

    casing: Casing
    spread_mm: float
    scatter_um: float
    gauge: GaugeFacts
    each: int

    def __str__(self) -> str:
        return (
            f"{self.casing:7} {self.spread_mm:5g} mm, s {self.scatter_um:4g} um, "
            f"step {self.gauge.resolution_mm:5g} mm, read {self.each} x"
        )


@dataclass(frozen=True, slots=True)
class Line:
    """Shares of `count` casings. within: called below a limit 2 um below the truth; over: above one 2 um
    above it. median_u_um: expanded uncertainty. needed: share of it that holds the truth in LEAST of them."""

    cell: Cell
    count: int
    covered: float
    within: float
    over: float
    median_u_um: float
    needed: float


def cells() -> Iterator[Cell]:
    """The whole grid."""
    for each in (1, 2, 3):
        for gauge in GAUGES:
            for scatter_um in SCATTER_UM:
                for casing in CASINGS:
                    for spread in (0.0,) if casing == "even" else SPREADS_MM:
                        yield Cell(casing, spread, scatter_um, gauge, each)


def casing_mm(cell: Cell, rng: np.random.Generator) -> F64:
    """True thickness of the places, mm, shape (8,), somewhere on the display's grid."""
    if cell.casing == "random":
        shape = rng.uniform(size=8)
        shape = (shape - shape.min()) / np.ptp(shape)
    else:
        shape = np.array(SHAPES[cell.casing])
    return np.asarray(shape * cell.spread_mm)


def read_nm(true_mm: F64, cell: Cell, rng: np.random.Generator) -> F64:
    """What the micrometer shows, whole nanometres, shape (places, readings of each)."""
    size = float(np.ptp(true_mm))
    error = rng.uniform(-cell.gauge.mpe_mm, cell.gauge.mpe_mm) / size if size else 0.0
    step = cell.gauge.resolution_mm
    felt = true_mm[:, None] * (1.0 + error) + rng.uniform(0.0, step)
    felt = felt + 1e-3 * cell.scatter_um * rng.standard_normal((true_mm.size, cell.each))
    return np.rint(np.rint(felt / step) * step * 1e6)


def taken(nm: F64, gauge: GaugeFacts, rules: ThicknessRules = RULES) -> Thickness:
    """As one attempt."""
    return Thickness(
        tuple(
            ThicknessReading(station, radius, int(value))
            for (station, radius), values in zip(rules.order, nm, strict=True)
            for value in values
        ),
        gauge,
    )


def line(cell: Cell, count: int, seed: int) -> Line:
    """One cell. Replicates that contradict each other are not the study's: the allowed range is wide."""
    rules = RULES.model_copy(update={"max_replicate_range_mm": 1.0})
    shares_of_u, below, above, u = [], [], [], []
    for i in range(count):
        rng = np.random.default_rng([seed, i, cell.each, int(10 * cell.scatter_um)])
        readings = taken(read_nm(casing_mm(cell, rng), cell, rng), cell.gauge).readings
        found = estimate_thickness(sort_places(readings, rules), cell.gauge, rules, seed=i)
        shares_of_u.append(abs(found.true_spread_mm - cell.spread_mm) / found.u_expanded_mm)
        below.append(found.p_over(cell.spread_mm - 0.002) <= 0.05)
        above.append(found.p_over(cell.spread_mm + 0.002) >= 0.95)
        u.append(1000.0 * found.u_expanded_mm)
    covered, within, over = (float(np.mean(each)) for each in (np.array(shares_of_u) <= 1.0, below, above))
    needed = float(np.quantile(shares_of_u, LEAST))
    return Line(cell, count, covered, within, over, float(np.median(u)), needed)


def worst(lines: Sequence[Line]) -> Iterator[tuple[str, Line]]:
    """Of each display and number of readings, the casing that needs most of its interval: nobody knows before
    what a casing is, nor how well its readings repeat, so that one interval must serve all of them."""
    for each in sorted({x.cell.each for x in lines}):
        for gauge in GAUGES:
            alike = [x for x in lines if x.cell.each == each and x.cell.gauge == gauge]
            if alike:
                yield (
                    f"step {gauge.resolution_mm:g} mm, read {each} x",
                    max(alike, key=lambda x: x.needed),
                )


def held_by_phase(u_mm: float, gauge: GaugeFacts, phases: int = 200) -> F64:
    """Share of the times that shown +- u holds the true spread, for truths all over a step of the display,
    shape (phases,), where readings repeat to far less than a step: what is shown is then a whole number of
    steps. Both ends are rounded, triangular over a step either way; the gauge's error is rectangular.
    """
    step, mpe = gauge.resolution_mm, gauge.mpe_mm
    error = np.linspace(-mpe, mpe, 2001)
    off = np.arange(-8, 9)[:, None] * step + step * np.arange(phases) / phases
    chance = np.clip(1.0 - np.abs(off[:, :, None] - error) / step, 0.0, None).mean(axis=2)
    return np.asarray(np.where(np.abs(off) <= u_mm, chance, 0.0).sum(axis=0))


def slipped(nm: F64, rng: np.random.Generator) -> F64:
    """One reading gone wrong: digits swapped, sign, decimal point either way, or a burr of 0.05 … 0.3 mm."""
    found = nm.copy()
    place, kind = int(rng.integers(nm.shape[0])), int(rng.integers(5))
    value = float(found[place, 0])
    hundredths = abs(int(value // 10_000))
    swapped = (hundredths % 10 * 10 + hundredths // 10 % 10 + hundredths // 100 * 100) * 10_000
    found[place, 0] = (swapped, -value, value / 10.0, value * 10.0, value + rng.uniform(5e4, 3e5))[kind]
    return np.rint(found)


def decided(cell: Cell, count: int, seed: int, *, slip: bool) -> dict[str, float]:
    """Shares of the outcomes of the check as the example method judges it, the truth at the cell's spread;
    the casing's lowest place reads 0.08 mm."""
    outcomes = []
    example = method(thickness=RULES.model_dump())
    for i in range(count):
        rng = np.random.default_rng([seed, i])
        nm = read_nm(casing_mm(cell, rng), cell, rng) + 80_000.0
        attempt = taken(slipped(nm, rng) if slip else nm, cell.gauge)
        outcomes.append(judge_thickness([attempt], example).outcome)
    return {name: outcomes.count(name) / count for name in sorted(set(outcomes))}


def near(cell: Cell, um: int) -> Cell:
    """The same with the truth so far above (or below) the limit of the example."""
    return replace(cell, spread_mm=RULES.limit_mm + um / 1000.0)


def table(lines: Sequence[Line]) -> str:
    """As text."""
    head = f"{'':54}{'covered':>9}{'within':>8}{'over':>7}{'median U':>10}{'needed':>8}"
    rows = [
        f"{x.cell!s:54}{100 * x.covered:8.1f}%{100 * x.within:7.1f}%{100 * x.over:6.1f}%{x.median_u_um:10.1f}"
        f"{x.needed:8.2f}"
        for x in lines
    ]
    return "\n".join([head, *rows])
