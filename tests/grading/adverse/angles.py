"""The crank's angle is not what it is told to be, or the crank is barred in an unusual way."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from grading.evidence import F64, Sweep
from tests.grading.adverse.day import Day, Take
from tests.grading.adverse.regime import Regime, Short
from tests.grading.synthetic import barred_path


def _encoder(day: Day, path: F64 | None = None) -> Take:
    day.source = "encoder"
    return day.take(day.form(), path)


def told_error(day: Day) -> Sequence[Sweep]:
    """Each angle is off by 1 to 5 degrees (standard), and is said to be."""
    take = _encoder(day)
    u = day.rng.uniform(1, 5)
    take.angle = take.angle + day.rng.normal(0, u, take.size)
    take.angle_u = np.hypot(take.angle_u, u)
    return [day.read(take)]


def untold_error(day: Day) -> Sequence[Sweep]:
    """Each angle is off by 1 to 3 degrees (standard), and nothing is said of it."""
    take = _encoder(day)
    take.angle = take.angle + day.rng.normal(0, day.rng.uniform(1, 3), take.size)
    return [day.read(take)]


def jitter(day: Day) -> Sequence[Sweep]:
    """Each angle is off by 0.5 degrees (standard), and nothing is said of it."""
    take = _encoder(day)
    take.angle = take.angle + day.rng.normal(0, 0.5, take.size)
    return [day.read(take)]


def offset(day: Day) -> Sequence[Sweep]:
    """All angles are off by the same, anything within a turn: no figure but the high spot may change."""
    take = _encoder(day)
    take.angle = take.angle + day.rng.uniform(-360, 360)
    return [day.read(take)]


def scaled(factor: Callable[[Day], float]) -> Callable[[Day], Sequence[Sweep]]:
    """Told angles are this many times the true ones; the sweep ends when the told turn is full."""

    def build(day: Day) -> Sequence[Sweep]:
        day.source = "encoder"
        scale = factor(day)
        told = barred_path(day.rng, day.per_turn, False)
        take = day.take(day.form(), told / scale)
        take.angle = take.angle * scale
        return [day.read(take)]

    return build


def back_and_forth(day: Day) -> Sequence[Sweep]:
    """Barred back by 5 to 40 degrees two to four times, the gauge 1 to 3 um lower on the way back."""
    path = barred_path(day.rng, day.per_turn, False)
    ways = np.ones(path.size)
    for _ in range(int(day.rng.integers(2, 5))):
        at = int(day.rng.integers(path.size // 4, 3 * path.size // 4))
        depth = min(day.rng.uniform(5, 40), path[at] - 1)
        m = max(2, round(day.per_turn * depth / 360))
        down = path[at] - np.linspace(0, depth, m + 1)[1:]
        path = np.concatenate([path[: at + 1], down, down[::-1], path[at + 1 :]])
        ways = np.concatenate([ways[: at + 1], -np.ones(m), np.ones(m), ways[at + 1 :]])
    take = _encoder(day, path)
    take.value = take.value - day.rng.uniform(0.001, 0.003) * (ways < 0)
    return [day.read(take)]


def backward(day: Day) -> Sequence[Sweep]:
    """Barred against the running direction all through."""
    return [day.read(_encoder(day, -barred_path(day.rng, day.per_turn, False)))]


def turns(day: Day) -> Sequence[Sweep]:
    """1.5, 2, 3 or 5 turns in one sweep, in turn."""
    count = (1.5, 2, 3, 5)[day.number // 3 % 4]
    day.per_turn = min(day.per_turn, 1000)
    parts = [barred_path(day.rng, day.per_turn, False) for _ in range(int(np.ceil(count)))]
    path = np.concatenate([part[part < 360] + 360 * i for i, part in enumerate(parts)])
    return [day.read(_encoder(day, path[path < 360 * count + day.rng.uniform(0, 8)]))]


def late_start(day: Day) -> Sequence[Sweep]:
    """The first 5 to 20 degrees of the turn bring no readings; the sweep ends as ever."""
    path = barred_path(day.rng, day.per_turn, False)
    return [day.read(_encoder(day, path[path >= day.rng.uniform(5, 20)]))]


REGIMES = (
    Regime("angle", "angle error 1-5 deg, told", told_error),
    Regime(
        "angle",
        "angle error 1-3 deg, untold",
        untold_error,
        short=Short(
            "told how wrong its angles are, and the slope, an oracle keeps none and covers 94 of 100; a "
            "coarse display hides from others what wrong angles do to its readings",
            kept_max=0.08,
            covered_min=0.86,
        ),
    ),
    Regime("angle", "jitter 0.5 deg", jitter),
    Regime("angle", "angle offset", offset, invalid_max=0.02),
    Regime("angle", "angle scale off by 1.5 %", scaled(lambda day: 1 + day.either() * 0.015)),
    # Half a turn is read; the start and what is told to be the start again differ unless chance has it, and
    # then its form shows it.
    Regime(
        "angle",
        "half a turn told to be one",
        scaled(lambda _: 2.0),
        short=Short(
            "told the family of surfaces an oracle finds all; what passes here is no whole turn, and its "
            "interval is of what was read",
            covered_min=0.15,
        ),
    ),
    # Two turns read as one are a surface of even orders: nothing in them is wrong, and the TIR is right.
    Regime("angle", "two turns told to be one", scaled(lambda _: 0.5), can_be_seen=False),
    Regime("angle", "back and forth", back_and_forth),
    Regime("angle", "barred backward", backward, invalid_max=0.02),
    Regime("angle", "1.5-5 turns", turns, invalid_max=0.02),
    Regime(
        "angle",
        "readings lack around the start",
        late_start,
        short=Short(
            "told angles and family an oracle covers 94 of 100; a dent in the gap is in no reading",
            kept_max=0.05,
            covered_min=0.7,
        ),
    ),
)
