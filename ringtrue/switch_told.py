"""A key across a modem line, in words and as what is pasted into the bay's configuration."""

from __future__ import annotations

from collections.abc import Sequence

from drivers.learn.contacts import Contact


def switch_told(key: Contact, place: str, *, alone: bool) -> Sequence[str]:
    """place: the line that says which device it is. alone: nothing else was learnt on the port, so that it is
    what is pressed at a mark."""
    rests = "on" if key.pressed == "off" else "off"
    also = f"; {' and '.join(line.upper() for line in key.joined)} with it" if key.joined else ""
    lines = [
        f"key: {key.line.upper()}{also}, at rest {rests}, {key.pressed} while pressed "
        f"(the shortest press took {key.shortest_s:.2f} s)"
    ]
    if not alone:
        return lines
    return [
        *lines,
        "to paste into the bay's configuration, where it is pressed at each mark:",
        "",
        "[angle.press]",
        'kind = "modem-line"',
        place,
        f'line = "{key.line}"',
        f'pressed = "{key.pressed}"',
        f"debounce_s = {key.debounce_s:g}",
    ]
