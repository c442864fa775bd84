"""A trend over services: against published lines, closed forms, and simulated services."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grading.programme.trend import Figure, Trend, standard_u_mm, trend_of

# JCGM 100:2008, H.3, table H.6: corrections of a thermometer at temperatures t - 20 (read in transcription).
GUM_T = (1.521, 2.012, 2.512, 3.003, 3.507, 3.999, 4.513, 5.002, 5.503, 6.01, 6.511)
GUM_B = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)
# Pearson's data, with the weights that York (1966) gave to y; from memory.
YORK_X = (0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4)
YORK_Y = (5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5)
YORK_WEIGHT = (1.0, 1.8, 4.0, 8.0, 20.0, 20.0, 70.0, 70.0, 100.0, 500.0)
HEIGHT = st.floats(0.02, 0.5)


def line(
    x: tuple[float, ...], y: tuple[float, ...], u: float | tuple[float, ...], unit: float = 1.0
) -> Trend:
    each = (u,) * len(x) if isinstance(u, float) else u
    found = trend_of([Figure(*one) for one in zip(x, y, each, strict=True)], unit)
    assert found is not None
    return found


def test_the_line_of_the_thermometer_is_the_published_one() -> None:
    # JCGM 100:2008, H.3.3: y2 = 0.00218, s = 0.00067; H.3.4: the correction at 30 degrees is -0.1494.
    found = line(GUM_T, GUM_B, 1e-5)
    rate = found.rate_mm()
    assert rate.median == pytest.approx(0.00218, abs=0.00001)
    # t of 9 degrees of freedom for 95 %: 2.262; the prior of tau is worth a little more or less.
    assert rate.high - rate.median == pytest.approx(2.262 * 0.00067, rel=0.1)
    assert found.at_mm(10.0).median == pytest.approx(-0.1494, abs=0.0001)


def test_a_plain_line_is_that_of_least_squares() -> None:
    # Least squares of Pearson's data, computed outside: 5.76119, -0.539577. A wide prior, as it is no length.
    found = line(YORK_X, YORK_Y, 1e-4, unit=1e-2)
    assert found.rate_mm().median * 100 == pytest.approx(-0.539577, rel=1e-4)
    assert found.at_mm(0.0).median == pytest.approx(5.76119, rel=1e-4)


def test_weights_are_those_of_the_stated_uncertainties() -> None:
    """Weighted least squares in closed form (York et al. 2004 without errors in x), in units in which neither
    prior weighs: the scatter is nothing beside the stated uncertainties, the slope's prior is wide."""
    w, x, y = np.array(YORK_WEIGHT), np.array(YORK_X), np.array(YORK_Y)
    mean = (w @ x) / w.sum()
    square = w @ (x - mean) ** 2
    slope = (w @ ((x - mean) * y)) / square
    u = tuple(float(v) * 1e3 for v in w**-0.5)
    rate = line(YORK_X, tuple(y * 1e3), u, unit=1e-6).rate_mm()
    assert rate.median * 1e6 == pytest.approx(slope * 1e3, rel=1e-3)
    assert rate.high - rate.low == pytest.approx(2 * 1.959964 * square**-0.5 * 1e3 * 1e-6, rel=0.02)


def test_two_services_give_the_line_through_both_and_a_wide_interval() -> None:
    rate = line((0.0, 1.0), (0.10, 0.12), 0.004).rate_mm()
    assert rate.median == pytest.approx(0.02, abs=0.001)
    assert rate.low < -0.02
    assert rate.high > 0.06


def test_one_service_or_one_place_gives_no_line() -> None:
    assert trend_of([Figure(3.0, 0.1, 0.004)], 1.0) is None
    assert trend_of([Figure(3.0, 0.1, 0.004), Figure(3.0, 0.12, 0.004)], 1.0) is None
    assert trend_of([], 1.0) is None


@given(y=st.lists(HEIGHT, min_size=2, max_size=6), by=st.floats(0.01, 0.1), scale=st.floats(0.5, 5_000.0))
def test_where_heights_and_counters_begin_changes_nothing(y: list[float], by: float, scale: float) -> None:
    plain = line(tuple(map(float, range(len(y)))), tuple(y), 0.004)
    x = tuple(7_000.0 + scale * i for i in range(len(y)))
    moved = line(x, tuple(v + by for v in y), 0.004, unit=scale)
    for one, other in ((plain.rate_mm(), moved.rate_mm()),):
        assert other.low == pytest.approx(one.low, abs=1e-6)
        assert other.high == pytest.approx(one.high, abs=1e-6)
    ahead = float(len(y))
    there = moved.at_mm(7_000.0 + scale * ahead)
    assert there.median == pytest.approx(plain.at_mm(ahead).median + by, abs=1e-6)


def test_services_in_any_order_are_the_same_line() -> None:
    figures = [Figure(float(i), y, 0.004) for i, y in enumerate((0.10, 0.13, 0.12, 0.15))]
    one, other = trend_of(figures, 1.0), trend_of(figures[::-1], 1.0)
    assert one is not None
    assert other is not None
    assert other.at_mm(4.0).high == pytest.approx(one.at_mm(4.0).high)
    assert other.last == one.last == 3.0


def test_the_chance_of_being_over_is_that_of_the_interval() -> None:
    found = line((0.0, 1.0, 2.0), (0.12, 0.15, 0.19), 0.004)
    there = found.at_mm(3.0)
    assert found.p_over(3.0, there.median) == pytest.approx(0.5, abs=1e-6)
    assert found.p_over(3.0, there.high) == pytest.approx(0.025, abs=1e-6)


def test_the_limit_is_met_where_the_chance_says_so() -> None:
    found = line((0.0, 1.0, 2.0), (0.15, 0.18, 0.21), 0.004)
    median, early = found.reached(0.28, 0.5), found.reached(0.28, 0.05)
    assert median is not None
    assert early is not None
    # 0.03 a service from 0.21 at 2: at 4 1/3.
    assert median == pytest.approx(2 + 0.07 / 0.03, abs=0.2)
    assert found.p_over(early, 0.28) == pytest.approx(0.05, abs=1e-6)
    assert 2.0 < early < median
    assert found.reached(0.15, 0.5) == 2.0  # it is there already
    assert line((0.0, 1.0, 2.0, 3.0), (0.1, 0.1, 0.1, 0.1), 0.004).reached(0.28, 0.5) is None


def test_u_is_read_back_from_what_was_stated() -> None:
    assert standard_u_mm(0.0196, 0.95) == pytest.approx(0.01, rel=1e-3)


@pytest.mark.parametrize("scatter_mm", [0.005, 0.02])
@pytest.mark.parametrize("slope_mm", [0.075, 0.3])
@pytest.mark.slow
def test_the_interval_holds_the_next_figure_where_its_priors_are_wrong_by_two(
    scatter_mm: float, slope_mm: float
) -> None:
    """Simulated services: the scatter half and twice the scale of its prior, the slope half and twice its.
    400 series each gave 0.90 … 0.91 of three services at twice the scatter, 0.93 of four, 0.94 of six; 0.97
    … 1 at half of it. Of 120 fewer than 84 % come by chance about one time in a hundred at 0.91."""
    for n in (3, 4, 6):
        rng = np.random.default_rng([7, n])
        held = 0
        for _ in range(120):
            slope = rng.normal(0, slope_mm)
            x = np.arange(n) + rng.uniform(-0.15, 0.15, n)
            y = 0.12 + slope * x + rng.normal(0, scatter_mm, n) + rng.normal(0, 0.004, n)
            there = line(tuple(x), tuple(y), 0.004).at_mm(float(n))
            held += there.low <= 0.12 + slope * n + rng.normal(0, scatter_mm) <= there.high
        assert held / 120 >= 0.84, n
