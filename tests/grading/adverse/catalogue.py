"""All regimes, by group."""

from __future__ import annotations

from collections.abc import Sequence

from tests.grading.adverse import (
    angles,
    contact,
    honest,
    level,
    marks,
    noise,
    opposite,
    repeats,
    stops,
    strokes,
    surfaces,
    tagged,
)
from tests.grading.adverse.regime import Regime

CATALOGUE: tuple[Regime, ...] = (
    *honest.REGIMES,
    *contact.REGIMES,
    *level.REGIMES,
    *opposite.REGIMES,
    *surfaces.REGIMES,
    *stops.REGIMES,
    *noise.REGIMES,
    *angles.REGIMES,
    *marks.REGIMES,
    *strokes.REGIMES,
    *tagged.REGIMES,
    *repeats.REGIMES,
)
BY_NAME = {regime.name: regime for regime in CATALOGUE}


def chosen(names: Sequence[str]) -> tuple[Regime, ...]:
    """Those of a group, or whose name holds one of the names; all of them without any name.

    Raises ValueError for a name that fits none.
    """
    if not names:
        return CATALOGUE
    for name in names:
        if not any(name == regime.group or name in regime.name for regime in CATALOGUE):
            raise ValueError(f"no regime or group is called {name!r}")
    return tuple(r for r in CATALOGUE if any(name == r.group or name in r.name for name in names))
