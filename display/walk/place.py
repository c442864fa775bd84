"""Where in the walk the person is: what this screen alone knows, and may forget."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Stage = Literal[
    "",
    "scope",
    "list",
    "begin",
    "dial",
    "note",
    "photo",
    "minutes",
    "correct",
    "zero",
    "decide",
    "remark",
    "close",
]
"""A page beside the one that the bay's state asks for."""


@dataclass(frozen=True, slots=True)
class Place:
    """inspection: the one that the person has said is theirs. passed: one that is closed and left unsigned.
    check: what is looked at. again: items that are looked at once more, in order. later: items put off. read:
    cautions read in this inspection. gauge, opposite, turns: chosen, before its sweep begins. seen, decision:
    chosen, before its note is written."""

    inspection: str | None = None
    passed: str | None = None
    check: str | None = None
    stage: Stage = ""
    again: tuple[str, ...] = ()
    later: tuple[str, ...] = ()
    read: frozenset[str] = frozenset()
    gauge: str = ""
    opposite: str = ""
    turns: int = 1
    seen: str = ""
    decision: str = ""
