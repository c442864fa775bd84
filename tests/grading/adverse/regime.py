"""What a regime is, and what it is held to."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from grading.evidence import Sweep
from tests.grading.adverse.day import NEAR_MM, Day

Build = Callable[[Day], Sequence[Sweep]]


@dataclass(frozen=True, slots=True)
class Short:
    """What a regime is held to where an aim cannot be met, and why it cannot: docs/bad-days.md says so too.
    None: the aim stands."""

    why: str
    kept_max: float | None = None
    replaced_max: float | None = None
    covered_min: float | None = None


@dataclass(frozen=True, slots=True)
class Regime:
    """One thing that goes wrong.

    build: all attempts of a day. can_be_seen: whether the data can show it at all. truths_mm: in turn, unless
    build sets the day's own. invalid_max: the largest share of `invalid` that is fair, for what is honest.
    covers: whether the truth is one that an interval could be held to. looks: attempts are made one after
    the other until the outcome is not `unclear`. short: where it falls short of an aim.
    """

    group: str
    name: str
    build: Build
    can_be_seen: bool = True
    truths_mm: tuple[float, ...] = NEAR_MM
    invalid_max: float | None = None
    covers: bool = True
    looks: bool = False
    short: Short | None = None
