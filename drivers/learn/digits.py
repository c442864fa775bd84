"""Where the number may be in frames that give it digit by digit.

Every place that changed must be spoken for, as a digit of the number, as its sign, or as what counts frames;
every place that did not is a mark, so that a frame that shows something there which was never heard is no
reading.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pydantic import ValidationError

from config.profile import CHARACTER, MIRRORED, DigitsValue
from drivers.learn.counters import counters
from drivers.learn.heard import Cut, Quantity, Step
from drivers.learn.moves import meaning

CODINGS = ("nibbles", "low-nibbles", "mirrored", "characters")
# Digits of the number that must have been seen to change: fewer prove nothing.
LEAST_CHANGING = 2
# A last digit has all values in a travel, or these where the display goes by fives; two others are a sign.
HALVES = {0, 5}


def digits(cut: Cut, steps: Sequence[Step], quantity: Quantity) -> Iterator[DigitsValue]:
    """Each way in which digits of the frames are what was moved."""
    if len({len(frame) for frame in cut.every}) != 1:
        return
    counting = counters(cut, steps)
    for coding in CODINGS:
        rows = [[_digits(coding, frame) for frame in some] for some in cut.data]
        every = [row for some in rows for row in some]
        if any(row is None for row in every):
            continue
        known = [[row for row in some if row is not None] for some in rows]
        free = [
            place for at in counting for place in ([at] if coding == "characters" else [2 * at, 2 * at + 1])
        ]
        yield from _numbers(coding, known, steps, quantity, free)


def _digits(coding: str, frame: bytes) -> list[int] | None:
    """The digit at each place; None where a byte is none in this coding."""
    if coding == "characters":
        return [byte & 0x0F for byte in frame] if all(b & 0xF0 == CHARACTER for b in frame) else None
    halves = [half for byte in frame for half in (byte >> 4, byte & 0x0F)]
    if coding == "low-nibbles":
        halves[::2], halves[1::2] = halves[1::2], halves[::2]
    return [MIRRORED[half] for half in halves] if coding == "mirrored" else halves


def _numbers(
    coding: str,
    rows: Sequence[Sequence[Sequence[int]]],
    steps: Sequence[Step],
    quantity: Quantity,
    free: Sequence[int],
) -> Iterator[DigitsValue]:
    """free: places that count the frames."""
    every = [row for some in rows for row in some]
    seen = [{row[at] for row in every} for at in range(len(every[0]))]
    changing = [at for at, some in enumerate(seen) if len(some) > 1 and at not in free]
    for sign in (None, *(at for at in changing if len(seen[at]) == 2 and 0 in seen[at])):
        of_number = [at for at in changing if at != sign]
        if len(of_number) < LEAST_CHANGING:
            continue
        first, last = of_number[0], of_number[-1]
        places = range(first, last + 1)
        # In a travel every digit below the highest that changed has changed as well.
        if any(len(seen[at]) < 2 or max(seen[at]) > 9 or at in free for at in places) or sign in places:
            continue
        mask = max(seen[sign]) if sign is not None else 0
        for order in (places, places[::-1]):
            if len(seen[order[-1]]) == 2 and seen[order[-1]] != HALVES:
                continue
            numbers = [[_number(row, order, sign, mask) for row in some] for some in rows]
            means = meaning(numbers, steps, quantity)
            if means is None or means.decimals > len(order):
                continue
            marks = [
                {"at": at, "digit": min(some)}
                for at, some in enumerate(seen)
                if at not in places and at != sign and at not in free
            ]
            try:
                yield DigitsValue.model_validate(
                    {
                        "kind": "digits",
                        "coding": coding,
                        "number": list(order),
                        "decimals": means.decimals,
                        "sign": None if sign is None else {"at": sign, "mask": mask},
                        "marks": marks,
                        "free": free,
                        "unit": means.unit,
                        "scale": means.scale,
                    }
                )
            except ValidationError:
                continue


def _number(row: Sequence[int], order: Sequence[int], sign: int | None, mask: int) -> int:
    number = 0
    for at in order:
        number = 10 * number + row[at]
    return -number if sign is not None and row[sign] & mask == mask else number
