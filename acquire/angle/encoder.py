"""An encoder on the crank: a position with each of its frames."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from acquire.angle.source import TURN_UDEG
from acquire.journal.events import AngleStated, Mark
from contract.units import UDEG_PER_DEG
from drivers.reading import Reading

if TYPE_CHECKING:
    from acquire.angle.spell import Spell
    from acquire.angle.tags import Tags

# A sweep ends by itself after one turn and 5 degrees of overlap: enough to compare start and end.
FULL_UDEG = 365 * UDEG_PER_DEG


class Encoder:
    """One as stated. u_time_ns: what the latencies of gauge and encoder leave uncertain, together."""

    reach_ns = 0
    full_udeg = FULL_UDEG

    def __init__(self, stated: AngleStated, u_time_ns: float) -> None:
        self._stated, self._u_time_ns = stated, u_time_ns
        self._per_crank_turn = stated.per_turn * stated.gear
        self.live_u_deg = 360.0 * stated.step / self._per_crank_turn / 12**0.5
        self._last: int | None = None
        self._raw = 0

    def heard(self, reading: Reading) -> int | None:
        """One value of the encoder, unwrapped the shorter way."""
        per_turn, half = self._stated.per_turn, self._stated.per_turn // 2
        if self._last is None:
            self._raw = reading.value % per_turn
        else:
            self._raw += (reading.value - self._last + half) % per_turn - half
        self._last = reading.value
        sense = -1 if self._stated.reversed else 1
        return round(sense * self._raw * (TURN_UDEG / self._per_crank_turn))

    def marked(self, mark: Mark) -> int | None:  # noqa: ARG002 (all sources are told)
        """It knows better."""
        return None

    def tags(self, spells: Sequence[Spell]) -> list[Tags]:
        """Between its frames, by time; nothing while it was away."""
        from acquire.angle.frames import tags_by_frames  # heavy: see acquire.bay.evidence

        return tags_by_frames(self._stated, self._u_time_ns, spells)
