"""What a sweep has read so far, by degree of the crank: live says only where it is now."""

from __future__ import annotations

from typing import Any

from contract.kinds import KINDS
from contract.live import Live

DEGREES = 360


def beside_of(live: Live) -> Live:
    """What runs beside the sweep that live shows, as live would say it; nothing runs where there is none. A
    second gauge of a face stands half a turn further on."""
    beside = live.beside[0] if live.beside else None
    if beside is None:
        return live.model_copy(update={"check": None})
    on_deg = 180.0 if beside.opposite else 0.0
    return live.model_copy(
        update={
            "check": beside.check,
            "angle_deg": None if live.angle_deg is None else (live.angle_deg + on_deg) % 360.0,
            "value_mm": beside.value_mm,
            "readings": beside.readings,
        }
    )


class Trace:
    """Of the sweep that runs, or ran last."""

    def __init__(self) -> None:
        self._of: tuple[str | None, ...] = (None, None, None)
        self._readings = 0
        self._is_running = False
        self._bins: list[float | None] = []

    def take(self, live: Live) -> bool:
        """One live message. True where another sweep has begun."""
        kind = KINDS.get(live.check or "")
        if kind is None or kind.takes != "turn":
            self._is_running = False
            return False
        # Where 0 degrees becomes another place within a sweep, what was drawn of it is elsewhere now.
        of = live.inspection, live.check, live.angle_zero
        anew = of != self._of or not self._is_running or live.readings < self._readings
        if anew:
            self._of, self._bins = of, [None] * DEGREES
        self._readings, self._is_running = live.readings, True
        if live.angle_deg is not None and live.value_mm is not None:
            self._bins[int(live.angle_deg) % DEGREES] = live.value_mm
        return anew

    def lose(self) -> None:
        """Nothing was heard for a while: what runs now may be another sweep, and is drawn from here on."""
        self._is_running = False

    def told(self) -> dict[str, Any] | None:
        """As a page takes it; None where nothing was swept yet."""
        return {"check": self._of[1], "bins": list(self._bins)} if self._bins else None
