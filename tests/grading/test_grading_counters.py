"""Counters against an independent least-squares fit, a published forecast, and walks whose truth is known."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from scipy import stats

from grading.programme.counters import Pace, Reached, Reading, pace_of, reached, series_of

START = date(2026, 1, 5)


def reading(day: int, value: float, inspection: str | None = None) -> Reading:
    return Reading(START + timedelta(days=day), value, inspection)


def test_readings_come_in_the_order_of_their_days_the_highest_of_each() -> None:
    series = series_of(
        [reading(30, 200.0), reading(0, 100.0, "GQ-1"), reading(30, 205.0, "GQ-2"), reading(9, 100.0)]
    )
    assert [(r.value, r.inspection) for r in series.readings] == [
        (100.0, "GQ-1"),
        (100.0, None),
        (205.0, "GQ-2"),
    ]
    assert series.left_out == ()
    assert series.fall is None


@pytest.mark.parametrize("wrong", [20.0, 2000.0])
def test_what_an_inspection_says_against_the_register_is_left_out(wrong: float) -> None:
    series = series_of([reading(0, 100.0), reading(10, wrong, "GQ-1"), reading(20, 200.0)])
    assert [r.value for r in series.readings] == [100.0, 200.0]
    assert [r.inspection for r in series.left_out] == ["GQ-1"]


@pytest.mark.parametrize("whose", [None, "GQ-2"])
def test_two_of_a_kind_that_contradict_each_other_leave_nothing_to_tell_from(whose: str | None) -> None:
    first = "GQ-1" if whose else None
    series = series_of([reading(0, 100.0, first), reading(10, 90.0, whose)])
    assert series.readings == ()
    assert series.fall is not None
    assert [r.value for r in series.fall] == [100.0, 90.0]


def test_the_last_reading_until_a_day() -> None:
    series = series_of([reading(0, 100.0), reading(10, 110.0)])
    assert series.until(START - timedelta(days=1)) is None
    assert series.until(START + timedelta(days=9)) == reading(0, 100.0)
    assert series.until(START + timedelta(days=10)) == reading(10, 110.0)


def test_the_pace_is_the_least_squares_one_of_increments_with_variance_by_their_time() -> None:
    """Against numpy's lstsq on the increments, each divided by the square root of its days."""
    days, values = np.array([0, 12, 40, 95, 130]), np.array([0.0, 90.0, 260.0, 700.0, 880.0])
    pace = pace_of([reading(int(d), float(v)) for d, v in zip(days, values, strict=True)], 365)
    gaps, ways = np.diff(days).astype(float), np.diff(values)
    (slope,), (rest,), _, _ = np.linalg.lstsq((np.sqrt(gaps))[:, None], ways / np.sqrt(gaps), rcond=None)
    assert pace is not None
    assert pace.spread is not None
    assert [pace.per_day, pace.spread] == pytest.approx([slope, rest / 3.0])
    assert (pace.freedom, pace.days) == (3, 130.0)


def test_one_day_alone_has_no_pace_and_few_days_have_no_spread() -> None:
    assert pace_of([reading(0, 100.0)], 365) is None
    assert pace_of([reading(0, 100.0), reading(10, 120.0)], 365) == Pace(2.0, None, 10.0, 0)
    three = pace_of([reading(0, 100.0), reading(10, 120.0), reading(20, 150.0)], 365)
    assert three == Pace(2.5, None, 20.0, 1)


def test_only_the_last_year_counts_where_it_has_two_readings() -> None:
    readings = [reading(0, 0.0), reading(500, 100.0), reading(600, 1100.0)]
    recent, all_of_it = pace_of(readings, 365), pace_of(readings, 50)
    assert recent is not None
    assert all_of_it is not None
    assert [recent.per_day, all_of_it.per_day] == pytest.approx([10.0, 1100.0 / 600.0])


def test_the_interval_ends_where_the_published_forecast_interval_holds_the_value() -> None:
    """Hyndman and Athanasopoulos, table of section 5.5 (from memory): the drift method's forecast h steps
    after T readings one step apart has the standard deviation s sqrt(h (1 + h / (T - 1)))."""
    values = [0.0, 7.0, 11.0, 19.0, 25.0, 29.0, 38.0]
    readings = [reading(day, value) for day, value in enumerate(values)]
    pace = pace_of(readings, 365)
    assert pace is not None
    assert pace.spread is not None
    when = reached(readings[-1], pace, 238.0, 0.95)
    t, s = stats.t.ppf(0.975, 5), np.sqrt(pace.spread)

    def holds(day: date | None, sign: float) -> float:
        assert day is not None
        h = (day - readings[-1].day).days
        return float(38.0 + h * 38.0 / 6.0 + sign * t * s * np.sqrt(h * (1.0 + h / 6.0)))

    one_day = 2.0 * 38.0 / 6.0
    assert holds(when.earliest, 1.0) == pytest.approx(238.0, abs=one_day)
    assert holds(when.latest, -1.0) == pytest.approx(238.0, abs=one_day)
    assert when.day == readings[-1].day + timedelta(days=int(200.0 / (38.0 / 6.0)))


def test_a_counter_that_stands_still_or_crawls_gets_nowhere() -> None:
    last = reading(100, 5.0)
    assert reached(last, Pace(0.0, 0.0, 100.0, 4), 6.0, 0.95) == Reached(None, None, None)
    assert reached(last, Pace(1e-6, None, 100.0, 0), 6.0, 0.95) == Reached(None)
    erratic = reached(last, Pace(1.0, 400.0, 100.0, 4), 300.0, 0.95)
    assert erratic.day == last.day + timedelta(days=295)
    assert erratic.earliest is not None
    assert erratic.earliest < erratic.day
    assert erratic.latest is None


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_of_walks_whose_truth_is_known_the_interval_holds_as_many_as_it_says(seed: int) -> None:
    """Trucks that work some days and stand on others; 95 in 100 at 2000 of them is 95 +- 1 (two sigma)."""
    rng = np.random.default_rng(seed)
    held, walks = 0, 2000
    for _ in range(walks):
        ways = rng.gamma(1.5, 4.0, size=2500) * (rng.random(2500) < 0.8)
        counter = np.concatenate([[0.0], np.cumsum(ways)])
        days = np.concatenate([[0], np.cumsum(rng.integers(10, 60, size=7))])
        readings = [reading(int(day), float(counter[day])) for day in days]
        pace = pace_of(readings, 10_000)
        assert pace is not None
        value = readings[-1].value + 900.0
        truth = START + timedelta(days=int(np.argmax(counter >= value)))
        when = reached(readings[-1], pace, value, 0.95)
        held += (
            when.earliest is not None
            and when.earliest <= truth
            and (when.latest is None or truth <= when.latest)
        )
    assert 0.93 < held / walks < 0.975, held / walks
