"""One thing looked at in a check by eye, as it goes from the technician's answer into journal and result."""

from __future__ import annotations

from dataclasses import dataclass

from contract.terms import Seen


@dataclass(frozen=True, slots=True)
class Item:
    """item: its id in the method. time_min, temperature_c: where the method asks it."""

    item: str
    seen: Seen
    note: str = ""
    time_min: float | None = None
    temperature_c: float | None = None
