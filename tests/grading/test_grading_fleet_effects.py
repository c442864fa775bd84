"""Bays and gauges compared by shared dampers, held against worked examples and another library."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from grading.fleet.effects import Fitted, compared
from grading.fleet.model import Model, Seen, solved
from grading.statistics.multiple import holm
from tests.grading.fleets import fleet

KEPT = Path(__file__).parent / "data" / "shared-dampers.csv"
"""Simulated; what statsmodels makes of it stands in the test."""


def kept() -> list[Seen]:
    rows = np.loadtxt(KEPT, delimiter=",", skiprows=1)
    return [Seen(f"d{d:.0f}", f"r{r:.0f}", x, y, 1e-5) for d, r, x, y in rows]


def test_a_balanced_incomplete_block_design_gives_the_published_effects() -> None:
    """Montgomery, Design and Analysis of Experiments, the catalysts: four treatments on four batches of
    three, adjusted effects -9/8, -7/8, -4/8, 20/8 and mean square error 0.65 (from memory; the sums
    agree)."""
    batches = ({1: 73, 3: 73, 4: 75}, {1: 74, 2: 75, 3: 75}, {2: 67, 3: 68, 4: 72}, {1: 71, 2: 72, 4: 75})
    seen = [
        Seen(f"d{batch}", f"r{reader}", 0.0, float(y), 1e-5)
        for batch, those in enumerate(batches)
        for reader, y in those.items()
    ]
    found = solved(Model(seen).sums(np.sqrt(0.65), 0.0))
    # Against the mean of the other three: 4/3 of what it is against the mean of all.
    assert found.mean[0] * 3 / 4 == pytest.approx([-9 / 8, -7 / 8, -4 / 8, 20 / 8], abs=1e-6)
    # The variance of a difference of two effects is 2 k MSE / (lambda t) there, that of an effect so
    # k (t - 1) MSE / (lambda t^2): k = 3 in a block, lambda = 2 blocks for a pair, t = 4 treatments.
    assert found.sd[0] * 3 / 4 == pytest.approx([np.sqrt(0.65 * 3 * 3 / (2 * 16))] * 4, rel=1e-6)


def test_effects_and_spreads_are_those_of_another_library() -> None:
    """statsmodels 0.15.0, MixedLM with a random slope by damper, dampers, use and readers fixed, REML."""
    model = Model(kept())
    tau, sigma = np.sqrt(77.1873623625e-6), np.sqrt(360.8184724e-6)
    found = solved(model.sums(tau, sigma))
    assert found.growth == pytest.approx(23.66487041e-3, rel=1e-4)
    assert found.mean[0] == pytest.approx(
        np.array([-4.78183593, 13.47959938, -9.58722026, 0.8894568]) * 1e-3, abs=2e-6
    )
    for other in ((tau * 1.05, sigma), (tau * 0.95, sigma), (tau, sigma * 1.1), (tau, sigma * 0.9)):
        assert solved(model.sums(*other)).evidence < found.evidence  # they are the REML estimates of both


def test_spreads_are_those_of_generalised_least_squares_written_out() -> None:
    """(X' V^-1 X)^-1, with V and X whole, of the textbooks."""
    seen, tau, sigma = kept(), 0.009, 0.02
    dampers, readers = (sorted({getattr(one, key) for one in seen}) for key in ("damper", "reader"))
    x = np.array([one.x for one in seen])
    d = np.array([[one.damper == name for name in dampers] for one in seen], dtype=float)
    r = np.array([[one.reader == name for name in readers] for one in seen], dtype=float)
    v = (1e-10 + tau**2) * np.eye(len(seen)) + sigma**2 * (d @ d.T) * np.outer(x, x)
    design = np.hstack([d, x[:, None], r[:, 1:]])
    inverse = np.linalg.inv(design.T @ np.linalg.solve(v, design))
    contrast = ((np.eye(4) - 0.25) * 4 / 3)[:, 1:]
    expected = np.sqrt(np.diag(contrast @ inverse[-3:, -3:] @ contrast.T))
    found = solved(Model(seen).sums(tau, sigma))
    assert found.sd[0] == pytest.approx(expected, rel=1e-6)
    assert found.growth_sd == pytest.approx(np.sqrt(inverse[-4, -4]), rel=1e-6)


def test_adjusted_chances_are_those_of_the_published_procedure() -> None:
    """Holm 1979, by hand: the smallest times four, the next times three …, never less than the one before."""
    assert holm([0.01, 0.02, 0.03, 0.005]) == pytest.approx((0.03, 0.04, 0.04, 0.02))
    assert holm([0.6, 0.5]) == (1.0, 1.0)
    assert holm([]) == ()


def test_a_bay_that_shares_no_damper_is_said_to_be_beyond_comparison() -> None:
    seen = [
        *(Seen("d1", reader, x, 0.1 + 0.01 * x, 0.004) for x, reader in enumerate(("a", "b", "a"))),
        *(Seen("d2", reader, x, 0.1 + 0.01 * x, 0.004) for x, reader in enumerate(("b", "a", "b"))),
        *(Seen("d3", reader, x, 0.1, 0.004) for x, reader in enumerate(("c", "d", "c"))),
        *(Seen("d4", "alone", x, 0.1, 0.004) for x in (0.0, 1.0)),
        Seen("d5", "once", 0.0, 0.1, 0.004),
    ]
    found = {effect.reader: effect for effect in compared(seen).effects}
    assert found["a"].group == ("a", "b")
    assert found["c"].group == ("c", "d")
    assert found["a"].offset is not None
    for alone in ("alone", "once"):
        assert found[alone].offset is None
        assert "shares no damper" in (found[alone].why_none or "")
    assert (found["a"].shared, found["a"].figures) == (2, 3)


def test_growth_is_not_taken_for_a_bay_that_reads_high() -> None:
    """Every damper went from one to the other after one interval: nothing tells growth from the reader."""
    seen = [
        Seen(f"d{n}", reader, float(x), 0.1 + 0.03 * x + 0.001 * n, 0.004)
        for n in range(6)
        for x, reader in enumerate(("a", "b"))
    ]
    found = compared(seen)
    assert [effect.offset for effect in found.effects] == [None, None]
    assert "growth cannot be told" in (found.effects[0].why_none or "")
    assert found.growth is None
    # One damper that stayed with one of them shows what growth is.
    known = compared([*seen, *(Seen("e", "a", float(x), 0.1 + 0.03 * x, 0.004) for x in range(4))])
    offset = known.effects[1].offset
    assert offset is not None
    assert offset.low < 0.0 < offset.high


def test_nothing_that_was_read_twice_gives_no_figures() -> None:
    found = compared([Seen("d1", "a", 0.0, 0.1, 0.004), Seen("d2", "b", 0.0, 0.1, 0.004)])
    assert found.growth is found.scatter is None
    assert [effect.offset for effect in found.effects] == [None, None]
    assert compared([]) == Fitted((), None, None)


def test_a_high_reader_is_found_and_honest_ones_are_not_accused() -> None:
    rng = np.random.default_rng(12)
    accused = held = told = 0
    for _ in range(12):
        found = compared(fleet(rng, 30, [0.0, 0.0, 0.0])).effects
        accused += any(p < 0.05 for p in holm([one.chance or 0.0 for one in found]))
        held += sum(one.offset is not None and one.offset.low <= 0.0 <= one.offset.high for one in found)
        told += len(found)
    assert accused <= 2
    assert held / told >= 0.85
    (first, *_) = compared(fleet(rng, 40, [0.03, 0.0, 0.0])).effects
    assert first.reader == "r0"
    assert first.chance is not None
    assert first.chance < 0.001
    assert first.offset is not None
    assert first.offset.low < 0.03 < first.offset.high
