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


@dataclass(frozen=True, slots=True)
class Photo:
    """A picture of an item. file: named for the SHA-256 of its bytes, in the bay's folder of photos."""

    item: str
    file: str
    note: str = ""
