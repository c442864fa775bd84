"""Keys across modem lines, as somebody presses them."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from drivers.learn.contacts import LINES, Line, Look

# How often lines are looked at, s.
LOOK_S = 0.005
# A gauge's contact bounces for so long at most, s (some milliseconds, common practice, no source).
BOUNCE_S = 0.012


@dataclass(frozen=True, slots=True)
class Key:
    """rests: the levels of all lines while nothing is pressed. joined: another line that goes with it.
    glitch: another that changes once. latches: each press leaves it the other way round."""

    line: Line
    rests: tuple[bool, ...]
    presses: int = 5
    joined: Line | None = None
    glitch: Line | None = None
    latches: bool = False

    @property
    def pressed(self) -> Literal["on", "off"]:
        return "off" if self.rests[LINES.index(self.line)] else "on"

    def looks(self, rng: random.Random, seconds: float) -> Iterator[Look]:
        at_s, spells = rng.uniform(0.4, 2.0), list[tuple[float, float]]()
        for _ in range(self.presses):
            held_s = rng.uniform(0.06, 0.5)
            spells.append((at_s, at_s + held_s))
            at_s += held_s + rng.uniform(0.3, 1.2)
        glitch_s = rng.uniform(0.2, at_s)
        for number in range(round(seconds / LOOK_S)):
            now_s = number * LOOK_S
            levels = list(self.rests)
            if self._is_pressed(now_s, spells, rng):
                for line in (self.line, self.joined):
                    if line is not None:
                        levels[LINES.index(line)] = not levels[LINES.index(line)]
            if self.glitch is not None and glitch_s <= now_s < glitch_s + 0.05:
                at = LINES.index(self.glitch)
                levels[at] = not levels[at]
            yield Look(now_s, tuple(levels))

    def _is_pressed(self, now_s: float, spells: list[tuple[float, float]], rng: random.Random) -> bool:
        if self.latches:
            return sum(begin <= now_s for begin, _ in spells) % 2 == 1
        for begin, end in spells:
            if begin <= now_s < begin + BOUNCE_S or end <= now_s < end + BOUNCE_S:
                return rng.random() < 0.5
            if begin <= now_s < end:
                return True
        return False


def drawn_key(rng: random.Random) -> Key:
    """Any that can be learnt."""
    line = rng.choice(LINES)
    others = [other for other in LINES if other != line]
    rng.shuffle(others)
    return Key(
        line,
        tuple(rng.random() < 0.5 for _ in LINES),
        joined=others[0] if rng.random() < 0.15 else None,
        glitch=others[1] if rng.random() < 0.3 else None,
    )
