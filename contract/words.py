"""Words in messages that a person reads."""

from __future__ import annotations


def count_of(number: int, what: str) -> str:
    """`1 reading`, `4 readings`."""
    return f"{number} {what}{'s' if number != 1 else ''}"
