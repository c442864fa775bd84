from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.programme import Intervals
from grading.programme.schedule import add_months, next_due
from tests.grading.samples import EXAMPLE


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (date(2026, 3, 2), 12, date(2027, 3, 2)),
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2026, 11, 30), 3, date(2027, 2, 28)),
        (date(2026, 12, 31), 1, date(2027, 1, 31)),
    ],
)
def test_months_later(day: date, months: int, expected: date) -> None:
    assert add_months(day, months) == expected


@given(st.dates(date(2000, 1, 1), date(2100, 1, 1)), st.integers(1, 120))
def test_months_later_is_that_many_months_later(day: date, months: int) -> None:
    later = add_months(day, months)
    assert (later.year - day.year) * 12 + later.month - day.month == months
    assert later.day <= day.day


def test_whichever_comes_first_is_left_to_the_counters() -> None:
    due = next_due(EXAMPLE.intervals, inspected=date(2026, 3, 2), distance_km=100_000.0, hours_h=5_000.0)
    assert (due.distance_km, due.hours_h, due.date) == (300_000.0, 8_000.0, "2027-03-02")


def test_what_is_not_known_or_not_limited_gives_no_figure() -> None:
    due = next_due(Intervals(hours_h=3000.0), inspected=date(2026, 3, 2), distance_km=1.0, hours_h=None)
    assert (due.distance_km, due.hours_h, due.date) == (None, None, None)
