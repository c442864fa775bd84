"""The months of results: made ahead of need, by whichever writer comes first."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime
from functools import lru_cache

from sqlalchemy import Date, bindparam, text

from records.fleet.database import Fleet

FIRST = date(2000, 1, 1)
"""No inspection of ours is older: whoever says so has lost his clock."""
AHEAD = 2
"""Months that are made before the first result of them comes."""


@lru_cache(maxsize=1000)
def month_of(opened: datetime, now: datetime) -> date:
    """The month of an inspection; of the day on which it came, where the bay's clock was plainly wrong: else
    one such clock would have a partition made for each month of a thousand years."""
    today = now.astimezone(UTC).date()
    try:
        said = opened.astimezone(UTC).date().replace(day=1)
    except OverflowError:  # of before the first day that there is
        said = date.min
    return said if FIRST <= said <= _after(today, AHEAD) else today.replace(day=1)


class Months:
    """Which months this writer knows to have partitions."""

    def __init__(self, fleet: Fleet) -> None:
        self._fleet = fleet
        self._made: set[date] = set()

    def have(self, wanted: Iterable[date], now: datetime) -> None:
        """Make those that are wanted, and those ahead of now, where they are missing."""
        today = now.astimezone(UTC).date()
        missing = {*wanted, *(_after(today, ahead) for ahead in range(AHEAD + 1))} - self._made
        for month in sorted(missing):
            with (
                self._fleet.transaction() as connection
            ):  # one each: the lock is held for as little as may be
                connection.execute(_MAKE, {"month": month})
            self._made.add(month)

    def forget(self) -> None:
        """Somebody may have taken some out."""
        self._made.clear()


_MAKE = text("SELECT fleet_make_month(:month)").bindparams(bindparam("month", type_=Date))


def _after(day: date, months: int) -> date:
    """The first of the month so many months after a day's own."""
    count = day.year * 12 + day.month - 1 + months
    return date(count // 12, count % 12 + 1, 1)
