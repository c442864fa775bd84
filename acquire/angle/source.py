"""What every source of the crank's angle is to the tagger and to the sweep that runs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

from acquire.journal.events import Mark
from contract.units import UDEG_PER_DEG
from drivers.reading import Reading

if TYPE_CHECKING:
    from acquire.angle.spell import Spell
    from acquire.angle.tags import Tags

TURN_UDEG = 360 * UDEG_PER_DEG


class AngleSource(Protocol):
    """Where the crank's angle comes from.

    live_u_deg: standard uncertainty of a position as it is told. reach_ns: how long before and after a known
    position a reading still counts as taken there. full_udeg: how much must be covered for a sweep to end by
    itself.
    """

    live_u_deg: float
    reach_ns: int
    full_udeg: int

    def heard(self, reading: Reading) -> int | None:
        """Where the crank is as its own instrument says it now, microdegrees as barred; None where it has
        none."""

    def marked(self, mark: Mark) -> int | None:
        """Where the crank is as a person says it now; None where that is not what it goes by."""

    def zero_udeg(self, zero: int) -> int:
        """Where the timing mark is, of the angles that it gives now. zero: as is stated of a sweep."""

    def tags(self, spells: Sequence[Spell]) -> list[Tags]:
        """The final tags of a sweep that is over, one for each spell: they look both ways. What computes
        them is heavy to load, and loaded here only."""
