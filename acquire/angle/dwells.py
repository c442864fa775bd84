"""Stops that a person makes at marks without a word: only the start and the end are pressed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from acquire.angle.marks import Marks
from acquire.journal.events import AngleStated

if TYPE_CHECKING:
    from acquire.angle.spell import Spell
    from acquire.angle.tags import Tags


class Dwells(Marks):
    """As stated: between two presses the crank stood at each of marks_udeg, repeating every turn.

    Live it is as with marks. Which stops were at the marks is found when the sweep is over; where that is not
    nearly certain, the tags carry a question and no angle is guessed.
    """

    def __init__(self, stated: AngleStated, u_time_ns: float, step_nm: int) -> None:
        super().__init__(stated, u_time_ns, step_nm)
        self._marks_udeg = stated.marks_udeg

    def tags(self, spells: Sequence[Spell]) -> list[Tags]:
        """Between the presses and the stops that were at marks, as the gauge shows the crank moving."""
        from acquire.angle.matched import tags_by_stops  # heavy: see acquire.bay.evidence

        return [
            tags_by_stops(self._marks_udeg, self.live_u_deg, self._u_time_ns, self._step_nm, spell)
            for spell in spells
        ]
