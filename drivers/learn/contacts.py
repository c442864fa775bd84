"""Which modem line a key changes, how that line rests, and how the key is pressed. Pure.

    cts  ____----______----______----_____     at rest off, on while pressed
    ri   ------__--------__--------__-----     at rest on, off while pressed
    dsr  ----_----------------------------     a glitch: not as often as it was pressed

Only a line that changed as often as its key was pressed is its key's, and that alone: one that stays as a
press has left it is no key's that a bay could read.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

Line = Literal["cts", "dsr", "ri", "cd"]
LINES: tuple[Line, ...] = ("cts", "dsr", "ri", "cd")
# Times between which it may have bounced and no more: each is tried, s; nobody presses twice within the last.
BOUNCES_S = (0.03, 0.06, 0.12)
# What lines that are joined may be apart, s: they are looked at one after another.
TOGETHER_S = 0.02


@dataclass(frozen=True, slots=True)
class Look:
    """All lines at one time, in the order of LINES; True: on."""

    time_s: float
    levels: Sequence[bool]


@dataclass(frozen=True, slots=True)
class Contact:
    """A key across a line. debounce_s: so long it must have been released before it counts again; joined:
    lines that go with it."""

    line: Line
    pressed: Literal["on", "off"]
    debounce_s: float
    shortest_s: float
    joined: tuple[Line, ...] = ()


def contact(looks: Sequence[Look], presses: int) -> Contact | str:
    """The key that was pressed so often meanwhile, or why none is known."""
    found: list[tuple[Line, str, float, list[tuple[float, float]]]] = []
    moved = [line for at, line in enumerate(LINES) if len({look.levels[at] for look in looks}) > 1]
    if not moved:
        return "no modem line moved: see that the key is across one of CTS, DSR, RI or CD"
    for line in moved:
        at = LINES.index(line)
        rest = looks[0].levels[at]
        if looks[-1].levels[at] is not rest:
            continue
        for bounce_s in BOUNCES_S:
            spells = _spells(looks, at, rest, bounce_s)
            if len(spells) == presses:
                found.append((line, "off" if rest else "on", bounce_s, spells))
                break
    if not found:
        said = ", ".join(line.upper() for line in moved)
        return (
            f"{said} moved, but not {presses} times there and back: press the key just so often, about once "
            "a second, and let it go each time"
        )
    line, pressed, bounce_s, spells = found[0]
    joined = []
    for other, _, _, theirs in found[1:]:
        if any(abs(a - b) > TOGETHER_S for a, b in zip(_edges(spells), _edges(theirs), strict=True)):
            both = f"{line.upper()} and {other.upper()} moved {presses} times"
            return f"{both}, but not together: learn it again"
        joined.append(other)
    shortest_s = min(end - begin for begin, end in spells)
    return Contact(line, "on" if pressed == "on" else "off", bounce_s, shortest_s, tuple(joined))


def _spells(looks: Sequence[Look], at: int, rest: bool, bounce_s: float) -> list[tuple[float, float]]:
    """From when to when it was not at rest; what came back sooner than it bounces was the same press."""
    spells: list[tuple[float, float]] = []
    for before, now in pairwise(looks):
        if now.levels[at] is rest or before.levels[at] is not rest:
            if now.levels[at] is not rest and spells:
                spells[-1] = spells[-1][0], now.time_s
            continue
        if spells and now.time_s - spells[-1][1] < bounce_s:
            spells[-1] = spells[-1][0], now.time_s
        else:
            spells.append((now.time_s, now.time_s))
    return spells


def _edges(spells: Sequence[tuple[float, float]]) -> list[float]:
    return [time_s for spell in spells for time_s in spell]
