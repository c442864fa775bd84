"""The bench: wiping, penetrant, developer and oven, by the workshop's own clock."""

from __future__ import annotations

from dataclasses import dataclass

from config.method import Method

# What the thermometer says in the workshop.
ROOM_C = 21.0


@dataclass(slots=True)
class Bench:
    """Times in minutes of the workshop's clock; None: not done. is_bare: paint and dirt off, and dry."""

    minute: float = 0.0
    is_bare: bool = False
    was_bare: bool = False
    penetrant_at: float | None = None
    removed_at: float | None = None
    developed_at: float | None = None
    warm_at: float | None = None
    warm_c: float = ROOM_C

    def penetrant(self) -> None:
        """Put on; what was done before is done anew."""
        self.penetrant_at, self.was_bare = self.minute, self.is_bare
        self.removed_at = self.developed_at = None

    def warm(self, temperature_c: float) -> None:
        """Into the oven, joint face down, and up to its temperature."""
        self.warm_at, self.warm_c = self.minute, temperature_c

    def figure(self, check: str, item: str) -> float | None:
        """What a clock or thermometer says of an item that asks a figure; None where it is not begun."""
        match check, item:
            case "penetrant", "temperature":
                return ROOM_C
            case "penetrant", "penetrant-dwell":
                return _between(self.penetrant_at, self.removed_at or self.minute)
            case "penetrant", "developer-dwell":
                return _between(self.developed_at, self.minute)
            case "warm-leak", "temperature":
                return self.warm_c
            case "warm-leak", "soak":
                return _between(self.warm_at, self.minute)
        return None

    def in_bounds(self, method: Method, check: str, item: str) -> bool:
        """Whether what the method asks of such an item is so."""
        figure = self.figure(check, item)
        rule = next(rule for name, rules in method.observed.items() if name == check
                    for rule in rules.item if rule.id == item)  # fmt: skip
        return figure is not None and rule.amiss(figure) is None

    def shows_cracks(self, method: Method) -> bool:
        """Whether penetrant would show what there is."""
        return self.was_bare and all(
            self.in_bounds(method, "penetrant", item) for item in ("penetrant-dwell", "developer-dwell")
        )

    def shows_leaks(self, method: Method) -> bool:
        """Whether it was warm for long enough to leak where it does."""
        return all(self.in_bounds(method, "warm-leak", item) for item in ("temperature", "soak"))


def _between(start: float | None, end: float) -> float | None:
    return None if start is None else end - start
