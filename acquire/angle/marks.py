"""Marks at which a person says that the crank stands: a position with each press."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from acquire.angle.covered import MARK_REACH_NS
from acquire.angle.source import TURN_UDEG
from acquire.journal.events import AngleStated, Mark
from contract.units import UDEG_PER_DEG
from drivers.reading import Reading

if TYPE_CHECKING:
    from acquire.angle.spell import Spell
    from acquire.angle.tags import Tags


class Marks:
    """As stated: the crank stands within mark_u_udeg (standard) of each. step_nm: of the gauge's display.

    Live, nothing is known of the crank between them: the turn is full with the first reading at the mark
    that closes it, and the next sweep can begin there.
    """

    reach_ns = MARK_REACH_NS
    full_udeg = TURN_UDEG

    def __init__(self, stated: AngleStated, u_time_ns: float, step_nm: int) -> None:
        self._u_time_ns, self._step_nm = u_time_ns, step_nm
        self.live_u_deg = stated.mark_u_udeg / UDEG_PER_DEG

    def heard(self, reading: Reading) -> int | None:  # noqa: ARG002 (all sources are told)
        """No instrument tells."""
        return None

    def marked(self, mark: Mark) -> int | None:
        """Where it was said to stand."""
        return mark.angle_udeg

    def zero_udeg(self, zero: int) -> int:  # noqa: ARG002 (all sources are asked)
        """The marks are places of the engine: at nought."""
        return 0

    def tags(self, spells: Sequence[Spell]) -> list[Tags]:
        """Between the marks, as the gauge shows the crank moving."""
        from acquire.angle.presses import tags_by_presses  # heavy: see acquire.bay.evidence

        return [tags_by_presses(self.live_u_deg, self._u_time_ns, self._step_nm, spell) for spell in spells]
