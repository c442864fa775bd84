"""How often the stated interval holds the true TIR, and how wide it is, over the grid of `synthetic`."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from grading.surface.tir import TirDistribution
from tests.grading.estimate import estimate_runout
from tests.grading.synthetic import GAUGES, AngleSource, Case, random_case, simulate

HARMONICS = ((1, 3), (4, 7), (8, 12))
READINGS = ((60, 150), (150, 600), (600, 3000))
NOISE_UM = ((0.5, 1.1), (1.1, 2.4), (2.4, 5.0))
TIR_MM = ((0.03, 0.08), (0.08, 0.22), (0.22, 0.6))
SOURCES: tuple[AngleSource, ...] = ("encoder", "marks")


@dataclass(frozen=True, slots=True)
class Outcome:
    """One simulated sweep: errors in mm, estimate minus truth. random_error: with the gauge's own span
    error taken out; random_u: the expanded uncertainty without the span's part; bare_error: of highest
    minus lowest, span error taken out too."""

    case: Case
    error: float
    u: float
    random_error: float
    random_u: float
    bare_error: float


def outcome(
    seed: int, number: int, gauge: int | None = None, per_turn: tuple[int, int] = (60, 3000)
) -> Outcome:
    """One sweep, numbered so that each cell of harmonics × feature × source comes equally often."""
    rng = np.random.default_rng([seed, number])
    case = random_case(
        rng,
        orders=HARMONICS[number % 3],
        feature=number // 3 % 2 == 1,
        source=SOURCES[number // 6 % 2],
        gauge=gauge,
        per_turn=per_turn,
    )
    made = simulate(rng, case)
    found = estimate_runout([made.sweep], seed=number)
    alone = TirDistribution(found.distribution.centres_mm, found.distribution.sd_mm, 0.0)
    middle = alone.median_mm()
    seen = made.true_tir_mm + made.span_mm
    return Outcome(
        case,
        found.true_tir_mm - made.true_tir_mm,
        found.u_expanded_mm,
        middle - seen,
        alone.expanded_mm(middle, found.coverage),
        found.tir_mm - seen,
    )


@dataclass(frozen=True, slots=True)
class Line:
    """One cell: coverage and its counterpart with the span taken out (shares), the rest in um."""

    name: str
    count: int
    coverage: float
    median_u: float
    error_95: float
    random_coverage: float
    random_error_95: float
    bare_error_95: float

    @property
    def width(self) -> float:
        """Median expanded uncertainty over the empirical 95 % error."""
        return self.median_u / self.error_95


def line(name: str, outcomes: Sequence[Outcome]) -> Line:
    """The figures of one cell."""

    def high(values: list[float]) -> float:
        return 1000 * float(np.quantile(np.abs(values), 0.95))

    return Line(
        name,
        len(outcomes),
        float(np.mean([abs(o.error) <= o.u for o in outcomes])),
        1000 * float(np.median([o.u for o in outcomes])),
        high([o.error for o in outcomes]),
        float(np.mean([abs(o.random_error) <= o.random_u for o in outcomes])),
        high([o.random_error for o in outcomes]),
        high([o.bare_error for o in outcomes]),
    )


def cells() -> Iterator[tuple[str, Callable[[Case], bool]]]:
    """Three cross tables of twelve cells each, and the margins of TIR."""

    def within(value: float, bounds: tuple[float, float]) -> bool:
        return bounds[0] <= value < bounds[1] * (1 + 1e-9)

    for h in HARMONICS:
        for feature in (False, True):
            for source in SOURCES:
                name = f"orders {h[0]}-{h[1]}, {'feature' if feature else 'smooth'}, {source}"
                yield (
                    name,
                    # A default binds the loop variable.
                    lambda c, h=h, feature=feature, source=source: (  # type: ignore[misc]
                        h[0] <= c.orders <= h[1] and c.feature == feature and c.source == source
                    ),
                )
    for n in READINGS:
        for feature in (False, True):
            for source in SOURCES:
                name = f"{n[0]}-{n[1]} a turn, {'feature' if feature else 'smooth'}, {source}"
                yield (
                    name,
                    # A default binds the loop variable.
                    lambda c, n=n, feature=feature, source=source: (  # type: ignore[misc]
                        within(c.per_turn, n) and c.feature == feature and c.source == source
                    ),
                )
    for step, _ in GAUGES:
        for noise in NOISE_UM:
            yield (
                f"step {step:g} mm, noise {noise[0]}-{noise[1]} um",
                lambda c, step=step, noise=noise: (  # type: ignore[misc]  # a default binds the loop variable
                    c.resolution_mm == step and within(1000 * c.noise_mm, noise)
                ),
            )
    for tir in TIR_MM:
        # A default binds the loop variable.
        yield f"TIR {tir[0]:g}-{tir[1]:g} mm", lambda c, tir=tir: within(c.tir_mm, tir)  # type: ignore[misc]


def summary(outcomes: Sequence[Outcome]) -> list[Line]:
    """All, then each cell that has any, then the sharpness of a 0.01 mm gauge at 150 readings or more."""
    lines = [line("all", outcomes)]
    for name, belongs in cells():
        if chosen := [o for o in outcomes if belongs(o.case)]:
            lines.append(line(name, chosen))
    if sharp := [o for o in outcomes if o.case.resolution_mm == 0.01 and o.case.per_turn >= 150]:
        lines.append(line("sharpness: step 0.01 mm, 150 a turn or more", sharp))
    return lines


def table(lines: Sequence[Line]) -> str:
    """As text, lengths in um."""
    head = (
        f"{'':46}{'sweeps':>7}{'covered':>9}{'median U':>10}{'95 % err':>10}{'U/err':>7}"
        f"{'| span out: cov.':>17}{'95 % err':>10}{'bare range':>12}"
    )
    rows = [
        f"{x.name:46}{x.count:7d}{100 * x.coverage:8.1f}%{x.median_u:10.2f}{x.error_95:10.2f}{x.width:7.2f}"
        f"{100 * x.random_coverage:16.1f}%{x.random_error_95:10.2f}{x.bare_error_95:12.2f}"
        for x in lines
    ]
    return "\n".join([head, *rows])
