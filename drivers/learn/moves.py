"""Whether a number is what was moved, and in which unit it is then.

At rest it must stand still; from one place to the next it must change as the place did, by one and the same
factor; and that must be a power of ten to a millimetre, an inch or a degree, give or take what blocks and
hands do. Moved through its travel it must go on without leaps: a digit that is missed or taken for another
makes a saw of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from statistics import median

from config.profile import WireUnit
from drivers.learn.heard import Quantity, Step

# By how much of itself a movement may be off: what a block, a table and a hand add up to, common practice, no
# source. A power of ten to the inch is 1.6 % or more from any other to the millimetre.
OFF = 0.05
# The least that a movement must change a number by: less would be too coarse to judge anything by.
LEAST = 20
# How often the whole range of a travel may be gone through, there and back, all wavering counted.
WAVERING = 5.0

_PER_MM = {WireUnit.MM: Fraction(1), WireUnit.INCH: Fraction(10, 254)}
_TURN_DEG = 360


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a number is: it, with its last `decimals` digits after the point, times scale is in unit."""

    unit: WireUnit
    decimals: int
    scale: Decimal


def meaning(
    numbers: Sequence[Sequence[int]], steps: Sequence[Step], quantity: Quantity, shown: int | None = None
) -> Meaning | None:
    """What the numbers of each step are; None where they are not what was moved.

    shown: how many decimals they show of themselves, None where they show no point.
    """
    if any(not some for some in numbers):
        return None
    places = [(step.at, some) for step, some in zip(steps, numbers, strict=True) if step.at is not None]
    if len(places) < 2 or places[0][0] != 0:
        return None
    at_rest = [(at, median(some), max(some) - min(some)) for at, some in places if at is not None]
    zero = at_rest[0][1]
    if quantity == "angle":
        return _angle([(at, value - zero, spread) for at, value, spread in at_rest], numbers, steps, shown)
    factors = [Fraction(value - zero) / at for at, value, _ in at_rest[1:]]
    factor = sum(factors, Fraction(0)) / len(factors)
    if abs(factor) < LEAST or any(abs(one - factor) > OFF * abs(factor) for one in factors):
        return None
    if any(spread > OFF * abs(factor) for _, _, spread in at_rest):
        return None
    if not _goes_on(numbers, steps):
        return None
    found = [
        (unit, power)
        for unit, per_mm in _PER_MM.items()
        if (power := _power(abs(factor) / per_mm)) is not None
    ]
    return _told(*found[0], factor < 0, shown) if len(found) == 1 else None


def _told(unit: WireUnit, power: int, falls: bool, shown: int | None) -> Meaning | None:
    sign = Decimal(-1 if falls else 1)
    if shown is not None:
        return Meaning(unit, shown, sign.scaleb(shown - power))
    if 0 <= power <= 9:
        return Meaning(unit, power, sign)
    return None


def _power(factor: Fraction) -> int | None:
    """The power of ten that it is, give or take OFF."""
    for power in range(10):
        if abs(factor / 10**power - 1) <= OFF:
            return power
    return None


def _goes_on(numbers: Sequence[Sequence[int]], steps: Sequence[Step], turn: int | None = None) -> bool:
    """Whether what was moved went on without leaps. turn: it may begin anew after so much."""
    for step, some in zip(steps, numbers, strict=True):
        if step.at is not None:
            continue
        moves = [b - a for a, b in pairwise(some)]
        if turn is not None:
            moves = [(move + turn // 2) % turn - turn // 2 for move in moves]
            if sum(map(abs, moves)) > WAVERING * turn:
                return False
        elif sum(map(abs, moves)) > WAVERING * (max(some) - min(some)):
            return False
    return True


def _angle(
    at_rest: Sequence[tuple[Fraction, float, int]],
    numbers: Sequence[Sequence[int]],
    steps: Sequence[Step],
    shown: int | None,
) -> Meaning | None:
    """Degrees where a point is shown, and may begin anew after a turn; counts where there is none."""
    if not shown:
        factors = [Fraction(value) / at for at, value, _ in at_rest[1:]]
        factor = sum(factors, Fraction(0)) / len(factors)
        whole = all(abs(one - factor) <= OFF * abs(factor) for one in factors) and factor * 90 != 0
        quiet = all(spread <= OFF * 90 * abs(factor) for _, _, spread in at_rest)
        if not whole or not quiet or abs(factor) * 90 < LEAST or not _goes_on(numbers, steps):
            return None
        return Meaning(WireUnit.COUNT, 0, Decimal(-1 if factor < 0 else 1))
    turn = _TURN_DEG * 10**shown
    for sign in (1, -1):
        wanted = [(sign * at * 10**shown, value) for at, value, _ in at_rest[1:]]
        if all(
            abs((Fraction(value) - want + turn // 2) % turn - turn // 2) <= OFF * abs(want)
            for want, value in wanted
        ) and _goes_on(numbers, steps, turn):
            return Meaning(WireUnit.DEG, shown, Decimal(sign))
    return None
