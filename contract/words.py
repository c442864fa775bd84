"""Words in messages that a person reads."""

from __future__ import annotations

from contract.result import ItemPart, NextDue


def count_of(number: int, what: str) -> str:
    """`1 reading`, `4 readings`."""
    return f"{number} {what}{'s' if number != 1 else ''}"


def item_words(item: ItemPart) -> str:
    """What was looked at: a good one in the method's words, which say what a good one is; a bad one so that
    they cannot be read as if it were: `flange: not so: No cracks`."""
    if item.text is None or item.seen != "bad":
        return item.text or item.item
    return f"{item.item}: not so: {item.text}"


def due_words(due: NextDue) -> str:
    """`14 840 h or 2027-11-02, whichever comes first`."""
    parts = due_parts(due)
    return " or ".join(parts) + (", whichever comes first" if len(parts) > 1 else "")


def due_parts(due: NextDue) -> list[str]:
    """`14 840 h`, `2027-11-02`."""
    parts = []
    if due.hours_h is not None:
        parts.append(f"{due.hours_h:,.0f} h".replace(",", " "))
    if due.distance_km is not None:
        parts.append(f"{due.distance_km:,.0f} km".replace(",", " "))
    if due.date is not None:
        parts.append(due.date)
    return parts
