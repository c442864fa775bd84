"""What there is to do at a bay: every check, and the repeatability test, in one table.

A new check is a row here, its rules in `config.method`, and a model of its own in `contract.result` where
it gives figures that no other gives. How each manner of taking is judged: `grading.assess`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Takes = Literal["turn", "places", "items", "lifts"]
"""A turn of the crank under a gauge; a micrometer at places of the casing; things looked at; an indicator
lifted again and again at one place."""


@dataclass(frozen=True, slots=True)
class Kind:
    """name: as commands, live, events and results have it. where: on the engine or on the bench; None for
    what is no check of a damper. takes: what it is made from."""

    name: str
    where: Literal["on-engine", "bench"] | None
    takes: Takes

    @property
    def is_check(self) -> bool:
        """Whether it is one of the checks that a verdict adds up."""
        return self.where is not None

    @property
    def is_measured(self) -> bool:
        """Whether it is a check against a limit."""
        return self.is_check and self.takes != "items"


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("visual", "on-engine", "items"),
        Kind("rim", "on-engine", "turn"),
        Kind("face", "on-engine", "turn"),
        Kind("visual-bench", "bench", "items"),
        Kind("thickness", "bench", "places"),
        Kind("penetrant", "bench", "items"),
        Kind("warm-leak", "bench", "items"),
        Kind("lifts", None, "lifts"),
    )
}
"""By name, in the order of a report."""


def takes(name: str) -> Takes:
    """What is taken under this name. Raises KeyError where there is none of it."""
    return KINDS[name].takes


def named(*ways: Takes) -> tuple[str, ...]:
    """The names of all that takes any of these."""
    return tuple(kind.name for kind in KINDS.values() if kind.takes in ways)
