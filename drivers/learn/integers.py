"""Where a whole number in binary may be in frames that end in a check.

Every byte that changed must be the number's own, or count the frames, and what did not is a mark: a number
that is longer than its changing bytes showed is refused then, not read as a shorter one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from pydantic import ValidationError

from config.profile import IntegerValue
from drivers.learn.counters import counters
from drivers.learn.heard import Cut, Quantity, Step
from drivers.learn.moves import meaning

LARGEST = 8
Order = Literal["high-first", "low-first"]
_ORDERS: dict[Order, Literal["big", "little"]] = {
    "high-first": "big",
    "low-first": "little",
}


def integers(cut: Cut, steps: Sequence[Step], quantity: Quantity) -> Iterator[IntegerValue]:
    """Each way in which the changing bytes of the frames are what was moved."""
    every = cut.every
    length = len(every[0])
    if any(len(frame) != length for frame in every):
        return
    seen = [{frame[at] for frame in every} for at in range(length)]
    counting = counters(cut, steps)
    changing = [at for at, some in enumerate(seen) if len(some) > 1 and at not in counting]
    if not changing:
        return
    own = slice(changing[0], changing[-1] + 1)
    if any(at in counting for at in range(own.start, own.stop)):
        return
    for order in _ORDERS:
        yield from _numbers(cut, steps, quantity, seen, own, order)
        # What is always FF above it may be its own, of a number that was never above nought.
        longer = own
        while (at := _above(longer, order)) in range(length) and seen[at] == {0xFF}:
            longer = slice(min(at, longer.start), max(at + 1, longer.stop))
        if longer != own:
            yield from _numbers(cut, steps, quantity, seen, longer, order)


def _above(own: slice, order: Order) -> int:
    """The place of the byte that would be the number's next higher one."""
    return int(own.start) - 1 if order == "high-first" else int(own.stop)


def _numbers(
    cut: Cut, steps: Sequence[Step], quantity: Quantity, seen: Sequence[set[int]], own: slice, order: Order
) -> Iterator[IntegerValue]:
    length, first, size = len(seen), int(own.start), int(own.stop - own.start)
    if size > LARGEST:
        return
    for signed in (True, False):
        numbers = [
            [int.from_bytes(frame[own], _ORDERS[order], signed=signed) for frame in some] for some in cut.data
        ]
        above = _above(own, order)
        is_longer = 0 <= above < length and seen[above] == {0}
        if signed and is_longer and not any(number < 0 for some in numbers for number in some):
            continue  # its upper half would be read as below nought; more is refused by the mark
        means = meaning(numbers, steps, quantity)
        if means is None:
            continue
        try:
            yield IntegerValue.model_validate(
                {
                    "kind": "integer",
                    "length": length,
                    "at": first,
                    "size": size,
                    "order": order,
                    "signed": signed,
                    "decimals": means.decimals,
                    "marks": [
                        {"at": n, "byte": min(some)}
                        for n, some in enumerate(seen)
                        if not own.start <= n < own.stop and len(some) == 1
                    ],
                    "unit": means.unit,
                    "scale": means.scale,
                }
            )
        except ValidationError:
            continue
