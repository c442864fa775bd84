"""Shares of a count, and how two of them differ, with intervals that hold for few as well."""

from __future__ import annotations

import math
from dataclasses import dataclass

from grading.statistics.distributions import normal_quantile


@dataclass(frozen=True, slots=True)
class Share:
    """share: of all, or the difference of two shares; low, high: ends of its interval."""

    share: float
    low: float
    high: float


def share_of(count: int, total: int, coverage: float = 0.95) -> Share:
    """count of total, by the score interval (Wilson 1927). ValueError unless 0 <= count <= total > 0."""
    if not 0 <= count <= total or total == 0:
        raise ValueError(f"a count of at most its total is needed, found {count} of {total}")
    z = normal_quantile(0.5 + 0.5 * coverage)
    share, square = count / total, z * z
    middle = (count + 0.5 * square) / (total + square)
    half = z / (total + square) * math.sqrt(total * share * (1.0 - share) + 0.25 * square)
    low = 0.0 if count == 0 else middle - half
    return Share(share, low, 1.0 if count == total else middle + half)


def difference(first: tuple[int, int], then: tuple[int, int], coverage: float = 0.95) -> Share:
    """The second share less the first, each (count, total), by the hybrid score interval (Newcombe 1998, his
    method 10)."""
    one, other = share_of(*first, coverage), share_of(*then, coverage)
    found = other.share - one.share
    low = found - math.hypot(other.share - other.low, one.high - one.share)
    return Share(found, low, found + math.hypot(other.high - other.share, one.share - one.low))
